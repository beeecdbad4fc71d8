"""Derived rows into the database by the hundred thousand, and out of it again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np
from django.db import connection, models, transaction

from analytics.datasets.columns import Ints

# Long enough to be fast, short enough that a phone's entry never waits for more than a moment.
ROWS_AT_ONCE = 50_000

Columns = dict[str, Sequence[Any]]


def insert_columns(model: type[models.Model], columns: Columns) -> int:
    """Insert one row per place of the columns (field name to values); returns their number."""
    names = [_column_of(model, name) for name in columns]
    rows = zip(*columns.values(), strict=True)
    write = _copy if connection.vendor == "postgresql" else _executemany
    total = 0
    while batch := list(islice(rows, ROWS_AT_ONCE)):
        with transaction.atomic():
            write(model._meta.db_table, names, batch)
        total += len(batch)
    return total


def _column_of(model: type[models.Model], name: str) -> str:
    field = model._meta.get_field(name)
    if not isinstance(field, models.Field) or field.column is None:
        raise ValueError(f"{model.__name__} must have a column for each name; {name!r} has none.")
    return field.column


def _executemany(table: str, names: list[str], rows: list[tuple[Any, ...]]) -> None:
    quote = connection.ops.quote_name
    columns = ", ".join(quote(name) for name in names)
    marks = ", ".join("?" * len(names))
    # The driver itself: Django's cursor copies the rows once more and looks at each.
    with connection.wrap_database_errors:
        connection.connection.executemany(
            f"INSERT INTO {quote(table)} ({columns}) VALUES ({marks})", rows
        )


def _copy(table: str, names: list[str], rows: list[tuple[Any, ...]]) -> None:
    quote = connection.ops.quote_name
    columns = ", ".join(quote(name) for name in names)
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(f"COPY {quote(table)} ({columns}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row(row)


def delete_generations(tables: Sequence[type[models.Model]], generation_ids: list[int]) -> None:
    """Delete the rows of generations that nobody is shown, a batch at a time."""
    for model in tables:
        rows = model._default_manager.filter(generation__in=generation_ids)
        while True:
            batch = rows.order_by().values("pk")[:ROWS_AT_ONCE]
            if not model._default_manager.filter(pk__in=batch).delete()[0]:
                break


def in_turn(count: int) -> Iterator[Ints]:
    """The numbers below a count, as many at a time as are written at once."""
    for start in range(0, count, ROWS_AT_ONCE):
        yield np.arange(start, min(start + ROWS_AT_ONCE, count))


def batches(values: Sequence[int], size: int) -> Iterator[Sequence[int]]:
    """The values in runs of at most so many."""
    for start in range(0, len(values), size):
        yield values[start : start + size]
