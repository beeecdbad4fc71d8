"""Import of a million readings beside the raw driver's insert of the very same rows.

Both in one run, on the same database file format with the same pragmas; processor time as well as
time on the clock, because other work on the machine bends only the latter.
"""

from __future__ import annotations

import resource
import shutil
import sqlite3
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from inspections.models import CounterReading
from inspections.services.fleet_folder.importing import import_fleet
from tests.inspections.fleet_folders import NOW

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("recompute_requests"),
]
DOORS, READINGS_EACH = 20_000, 50
TABLE = CounterReading._meta.db_table
FIRST = datetime(2022, 1, 3, 6, 0)


@dataclass(frozen=True)
class Timed:
    """How long something took, in seconds."""

    processor: float
    clock: float


def timed(act: Callable[[], object]) -> Timed:
    processor, clock = time.process_time(), time.perf_counter()
    act()
    return Timed(time.process_time() - processor, time.perf_counter() - clock)


def write_fleet(folder: Path, doors: int, readings_each: int) -> Path:
    """A fleet in three time zones with nothing but readings."""
    folder.mkdir()
    depots = "depot,timezone\nA,America/Chicago\nB,America/New_York\nC,UTC\n"
    (folder / "depots.csv").write_text(depots)
    (folder / "door_models.csv").write_text("door_model\nM1\n")
    with (folder / "trucks.csv").open("w") as trucks, (folder / "doors.csv").open("w") as units:
        trucks.write("truck,depot\n")
        units.write("door,door_model,truck,record_from\n")
        for at in range(doors):
            trucks.write(f"T{at:06d},{'ABC'[at % 3]}\n")
            units.write(f"D{at:06d},M1,T{at:06d},2020-01-01\n")
    with (folder / "readings.csv").open("w") as readings:
        readings.write("door,read_at,counter_value,read_by,source\n")
        for at in range(doors):
            for step in range(readings_each):
                read_at = FIRST + timedelta(
                    days=step * 30 + at % 7, minutes=(at * 37 + step * 91) % 600
                )
                readings.write(
                    f"D{at:06d},{read_at:%Y-%m-%dT%H:%M},{(step * 1200 + at) % 1_000_000},"
                    f"tech {at % 40},hand\n"
                )
    return folder


def insert_raw(tmp_path: Path) -> Timed:
    """The rows that were imported, put into an empty copy of the tables by the raw driver."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    copy = tmp_path / "raw.sqlite3"
    shutil.copy(settings.DATABASES["default"]["NAME"], copy)
    raw = sqlite3.connect(copy, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=NORMAL", "foreign_keys=ON"):
        raw.execute(f"PRAGMA {pragma}")
    found = raw.execute(f"SELECT * FROM {TABLE}")
    marks = ", ".join("?" * len(found.description))
    rows = found.fetchall()
    # Only what follows from the rows themselves is measured, not what else hangs on the table.
    raw.execute("PRAGMA foreign_keys=OFF")
    raw.execute(f"DELETE FROM {TABLE}")
    raw.execute("VACUUM")
    raw.execute("PRAGMA foreign_keys=ON")

    def insert() -> None:
        raw.execute("BEGIN IMMEDIATE")
        raw.executemany(f"INSERT INTO {TABLE} VALUES ({marks})", rows)
        raw.execute("COMMIT")

    took = timed(insert)
    raw.close()
    return took


@pytest.mark.skipif(connection.vendor != "sqlite", reason="compares with SQLite's own driver")
def test_import_takes_at_most_twice_the_raw_insert(tmp_path: Path, capsys) -> None:
    folder = write_fleet(tmp_path / "fleet", DOORS, READINGS_EACH)
    first = timed(lambda: import_fleet(folder, now=NOW))
    rows = CounterReading.objects.count()
    assert rows == DOORS * READINGS_EACH
    again = timed(lambda: import_fleet(folder, now=NOW))
    raw = insert_raw(tmp_path)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    with capsys.disabled():
        sys.stdout.write(
            f"\nimport of {rows:,} readings and {DOORS:,} doors: "
            f"{first.processor:.1f} s processor, {first.clock:.1f} s clock; "
            f"again, nothing new: {again.processor:.1f} s, {again.clock:.1f} s; "
            f"raw executemany of the readings: {raw.processor:.1f} s, {raw.clock:.1f} s; "
            f"ratio {first.processor / raw.processor:.2f} processor, "
            f"{first.clock / raw.clock:.2f} clock; peak {peak:.0f} MB\n"
        )
    assert first.processor <= 2 * raw.processor
