"""The raw driver's work on the rows of a recompute: what no program on it can undercut."""

from __future__ import annotations

from time import perf_counter
from typing import Any

from django.db import connection, models

from analytics.recompute.full import DERIVED
from tests.bench.test_recompute_bench import NEEDED


def _driver() -> Any:
    connection.ensure_connection()
    return connection.connection


def raw_fetch_seconds() -> float:
    """Fetch every column that a recompute needs, as the driver gives it."""
    clock = perf_counter()
    for model, columns in NEEDED.items():
        cursor = _driver().cursor()
        cursor.execute(f"SELECT {', '.join(columns.split())} FROM {model._meta.db_table}")
        cursor.fetchall()
    return perf_counter() - clock


def raw_write_seconds() -> float:
    """Write the derived rows that are shown once more, and delete them again."""
    return sum(_write(model) for model in DERIVED)


def _write(model: type[models.Model]) -> float:
    names = [each.column for each in model._meta.concrete_fields if not each.primary_key]
    columns, table = ", ".join(names), model._meta.db_table
    place = names.index("generation_id")
    cursor = connection.cursor()
    # As text, so that the driver takes back what it gave.
    cursor.execute(f"SELECT {columns} FROM {table}")
    rows = [(*row[:place], -1, *row[place + 1 :]) for row in cursor.fetchall()]
    if connection.vendor == "postgresql":
        seconds = _copied(table, columns, rows)
    else:
        clock = perf_counter()
        marks = ", ".join("?" * len(names))
        driver = _driver()
        driver.execute("BEGIN")
        driver.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", rows)
        driver.execute("COMMIT")
        seconds = perf_counter() - clock
    cursor.execute(f"DELETE FROM {table} WHERE generation_id = -1")
    return seconds


def _copied(table: str, columns: str, rows: list[tuple[Any, ...]]) -> float:
    clock = perf_counter()
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} ({columns}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row(row)
    return perf_counter() - clock
