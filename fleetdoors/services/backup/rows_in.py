"""Rows into a table by the driver's quickest way."""

from __future__ import annotations

from typing import Any

from django.db import connection

Rows = list[list[Any]]


def insert_rows(table: str, names: list[str], rows: Rows) -> None:
    """Insert rows whose values are as the database takes them."""
    write = _copy if connection.vendor == "postgresql" else _executemany
    write(table, names, rows)


def _executemany(table: str, names: list[str], rows: Rows) -> None:
    quote = connection.ops.quote_name
    columns = ", ".join(quote(name) for name in names)
    marks = ", ".join("?" * len(names))
    connection.ensure_connection()
    with connection.wrap_database_errors:
        connection.connection.executemany(
            f"INSERT INTO {quote(table)} ({columns}) VALUES ({marks})", rows
        )


def _copy(table: str, names: list[str], rows: Rows) -> None:
    quote = connection.ops.quote_name
    columns = ", ".join(quote(name) for name in names)
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {quote(table)} ({columns}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row(row)
