"""Inserts many rows at once, by the fastest way that each database has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import connection, models

Column = Sequence[Any]


def insert_columns(model: type[models.Model], columns: Mapping[str, Column]) -> None:
    """Insert rows given by column; database columns that are not named get the model's default."""
    rows = len(next(iter(columns.values())))
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    filled: dict[str, Column] = {
        str(field.column): columns.get(str(field.column)) or [prepared(field.get_default())] * rows
        for field in fields
    }
    insert_rows(model._meta.db_table, list(filled), zip(*filled.values(), strict=True))


def insert_rows(table: str, names: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
    """Insert prepared rows."""
    if connection.vendor == "postgresql":
        # Copying is the driver's own: what breaks there is told as Django tells it elsewhere.
        with (
            connection.wrap_database_errors,
            connection.cursor() as cursor,
            cursor.copy(f"COPY {table} ({', '.join(names)}) FROM STDIN") as copy,
        ):
            for row in rows:
                copy.write_row(row)
        return
    marks = ", ".join(["%s"] * len(names))
    with connection.cursor() as cursor:
        cursor.executemany(
            f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})",
            list(rows),
        )


def prepared(value: Any) -> Any:
    """A value as both databases take it."""
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(sep=" ") + zone_suffix()
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal | models.Choices) else value


def zone_suffix() -> str:
    """What a moment in UTC carries: SQLite keeps none, PostgreSQL would take it for local."""
    return "+00" if connection.vendor == "postgresql" else ""


def batches(rows: Sequence[Any], size: int) -> Iterator[Sequence[Any]]:
    """Slices of a long sequence."""
    for start in range(0, len(rows), size):
        yield rows[start : start + size]
