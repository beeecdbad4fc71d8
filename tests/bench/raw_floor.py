"""The raw driver's work on the same rows: what no program on it can undercut."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

from django.db import connection, models

from analytics.recompute.full import DERIVED
from inspections.models import CounterReading
from tests.bench.test_recompute_bench import NEEDED

Row = tuple[Any, ...]
ROWS_AT_ONCE = 500_000


@dataclass(frozen=True)
class Taken:
    """Seconds by the clock, and of this process's own work."""

    clock: float = 0.0
    work: float = 0.0

    def __add__(self, other: Taken) -> Taken:
        return Taken(self.clock + other.clock, self.work + other.work)


def taken(act: Callable[[], object]) -> Taken:
    """How long something took."""
    clock, work = perf_counter(), process_time()
    act()
    return Taken(perf_counter() - clock, process_time() - work)


def _driver() -> Any:
    connection.ensure_connection()
    return connection.connection


def raw_fetch() -> Taken:
    """Fetch every column that a recompute needs, as the driver gives it."""
    return sum((_fetch(model, columns) for model, columns in NEEDED.items()), Taken())


def _fetch(model: type[models.Model], columns: str) -> Taken:
    query = f"SELECT {', '.join(columns.split())} FROM {model._meta.db_table}"
    cursor = _driver().cursor()
    return taken(lambda: cursor.execute(query).fetchall())


def raw_write() -> Taken:
    """Write the derived rows that are shown once more, and delete them again."""
    return sum((_write_again(model) for model in DERIVED), Taken())


def _write_again(model: type[models.Model]) -> Taken:
    names, table = _columns(model), model._meta.db_table
    place = names.index("generation_id")
    cursor = connection.cursor()
    # As text, so that the driver takes back what it gave.
    cursor.execute(f"SELECT {', '.join(names)} FROM {table}")
    rows = [(*row[:place], -1, *row[place + 1 :]) for row in cursor.fetchall()]
    took = taken(lambda: _put(table, names, rows))
    cursor.execute(f"DELETE FROM {table} WHERE generation_id = -1")
    return took


def raw_readings() -> Taken:
    """Put the readings on record into their emptied table anew, by the driver's quickest way."""
    names, table = _columns(CounterReading), CounterReading._meta.db_table
    columns, took = ", ".join(names), Taken()
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE held AS SELECT {columns} FROM {table}")
        cursor.execute(f"DELETE FROM {table}")
        cursor.execute("VACUUM")
        cursor.execute(f"SELECT {columns} FROM held")
        while rows := cursor.fetchmany(ROWS_AT_ONCE):
            took += taken(lambda rows=rows: _put(table, names, rows))  # type: ignore[misc]
    return took


def _columns(model: type[models.Model]) -> list[str]:
    fields = [each for each in model._meta.concrete_fields if not each.primary_key]
    return [str(each.column) for each in fields]


def _put(table: str, names: list[str], rows: Iterable[Row]) -> None:
    columns = ", ".join(names)
    if connection.vendor == "postgresql":
        _copy(f"COPY {table} ({columns}) FROM STDIN", rows)
        return
    driver, marks = _driver(), ", ".join("?" * len(names))
    driver.execute("BEGIN")
    driver.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", rows)
    driver.execute("COMMIT")


def _copy(statement: str, rows: Iterable[Row]) -> None:
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)
