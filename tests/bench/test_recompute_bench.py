"""Recomputing a large fleet, against what the raw driver takes for the same rows in the same run.

The floor: fetching the rows the figures need with the plain `sqlite3` module, plus its
`executemany` of the derived rows into the same tables, indexes included.
"""

from __future__ import annotations

import os
import sqlite3
import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time

import pytest
from django.db import models

from analytics.models import Computation
from analytics.recompute import recompute_doors, recompute_fleet
from analytics.recompute.full import DERIVED
from fleetdoors.models import Counter, DoorUnit, Fitment, Mounting, Truck
from inspections.models import CounterReading, Fault, PartUsed, TaskDone
from tests.bench.conftest import Bench
from tests.bench.machine import slowness
from tests.bench.made_fleet import NOW

ROOT = Path(__file__).resolve().parents[2]
MOST_TIMES_THE_FLOOR = 3.0
MOST_MS_FOR_ONE_DOOR = 130.0
MOST_MEGABYTES = 1_000
NEEDED = {
    CounterReading: "id door_id read_at counter_value ruling status",
    Fault: "id door_id found_at at_cycles component_id is_failure mode",
    TaskDone: "door_id task_id done_at at_cycles",
    Fitment: (
        "id door_id component_id part_id fitted_on fitted_at_cycles observed_from_cycles "
        "removed_on removed_at_cycles removal entered_at end_entered_at"
    ),
    PartUsed: "door_id used_at part_id quantity depot_id draws_on_stock",
    DoorUnit: "id serial revision door_model_id opening_cycles record_from retired_on",
    Mounting: "door_id truck_id mounted_on removed_on entered_at end_entered_at",
    Counter: "door_id first_value last_value digits counts_per_cycle fitted_on removed_on",
    Truck: "id fleet_number depot_id route_kind",
}


Say = Callable[[str], None]


@pytest.fixture
def say(capfd: pytest.CaptureFixture[str]) -> Say:
    """Print past pytest's capture: the ratios are what the run is for."""

    def aloud(words: str) -> None:
        with capfd.disabled():
            sys.stdout.write(f"\n{words}\n")
            sys.stdout.flush()

    return aloud


def raw_fetch_seconds(driver: sqlite3.Connection) -> float:
    clock = perf_counter()
    for model, columns in NEEDED.items():
        names = ", ".join(columns.split())
        driver.execute(f"SELECT {names} FROM {model._meta.db_table}").fetchall()
    return perf_counter() - clock


def raw_insert_seconds(driver: sqlite3.Connection, model: type[models.Model]) -> float:
    """Write the rows of the generation that is shown once more, and delete them again."""
    columns = [field.column for field in model._meta.concrete_fields if not field.primary_key]
    names, table = ", ".join(columns), model._meta.db_table
    rows = driver.execute(f"SELECT {names} FROM {table}").fetchall()
    place = columns.index("generation_id")
    rows = [(*row[:place], -1, *row[place + 1 :]) for row in rows]
    marks = ", ".join("?" * len(columns))
    clock = perf_counter()
    driver.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)
    driver.commit()
    seconds = perf_counter() - clock
    driver.execute(f"DELETE FROM {table} WHERE generation_id = -1")
    driver.commit()
    return seconds


def floor_seconds(bench: Bench, say: Say) -> float:
    driver = sqlite3.connect(bench.file)
    # As the program sets it; the file itself is in WAL mode.
    driver.execute("PRAGMA synchronous=NORMAL")
    fetch = raw_fetch_seconds(driver)
    insert = sum(raw_insert_seconds(driver, model) for model in DERIVED)
    driver.close()
    say(f"floor: {fetch:.2f} s to fetch, {insert:.2f} s to write")
    return fetch + insert


def test_full_recompute_against_the_raw_driver(large_fleet: Bench, say: Say):
    recompute_fleet(as_of=NOW, started_at=NOW)
    ratios = []
    for _round in range(2):
        floor = floor_seconds(large_fleet, say)
        clock = perf_counter()
        run = recompute_fleet(as_of=NOW, started_at=NOW)
        whole = perf_counter() - clock
        ratios.append(whole / floor)
        say(
            f"full recompute of {run.doors:,} doors, {large_fleet.readings:,} readings: "
            f"{whole:.2f} s ({run.seconds:.2f} s until shown), {whole / floor:.2f} x the floor "
            f"(at most {MOST_TIMES_THE_FLOOR:g})"
        )
    assert Computation.objects.count() == 1
    assert min(ratios) <= MOST_TIMES_THE_FLOOR


def test_one_door_after_a_reading(large_fleet: Bench, say: Say):
    if not Computation.objects.current().exists():
        recompute_fleet(as_of=NOW, started_at=NOW)
    doors = list(DoorUnit.objects.order_by("pk").values_list("pk", flat=True)[5:45])
    waited, worked = [], []
    for door in doors:
        clock, work = perf_counter(), process_time()
        recompute_doors([door], as_of=NOW)
        waited.append(1000 * (perf_counter() - clock))
        worked.append(1000 * (process_time() - work))
    allowed = MOST_MS_FOR_ONE_DOOR * slowness()
    say(
        f"one door of {large_fleet.doors:,}: {statistics.median(waited):.0f} ms by the clock "
        f"(fastest {min(waited):.0f}, slowest {max(waited):.0f}), of them "
        f"{statistics.median(worked):.0f} ms at work (at most {allowed:.0f})"
    )
    # By work, not by the clock: on a busy machine the clock tells what others do.
    assert statistics.median(worked) < allowed
    assert min(waited) < 2 * allowed


# What the kernel counts of this process alone: `ru_maxrss` would take in pytest, which forked it.
_COMMAND = """
from pathlib import Path
from django.core.management import execute_from_command_line
execute_from_command_line(["manage.py", "recompute"])
[line] = [line for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line]
print(line.split()[1])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read from /proc")
def test_peak_memory_of_the_command(large_fleet: Bench, tmp_path: Path, say: Say):
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "fleetdoors.config.settings",
        "DATABASE_URL": f"sqlite:///{large_fleet.file}",
        "FLEETDOORS_DATA_DIR": str(tmp_path),
    }
    said = subprocess.run(
        [sys.executable, "-c", _COMMAND],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        check=True,
        text=True,
    ).stdout.splitlines()
    megabytes = int(said[-1]) / 1024
    say(f"recompute: {said[0]} Peak memory {megabytes:,.0f} MB (at most {MOST_MEGABYTES:,})")
    assert megabytes < MOST_MEGABYTES
