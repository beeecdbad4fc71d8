"""Published data as a fleet folder: imported by the command, asked for by the command.

A unit of time of the publication becomes a cycle; each unit that was tested becomes a door.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from datetime import date, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

from django.core.management import call_command

FIRST_DAY = date(2025, 1, 1)
LAST_DAY = FIRST_DAY + timedelta(days=400)
Row = dict[str, Any]


@dataclass(frozen=True)
class Unit:
    """What was tested: cycles at the end, ages at which it failed."""

    end_cycles: int
    failed_at: tuple[int, ...] = ()


def import_tables(folder: Path, **tables: list[Row]) -> None:
    """Write the tables as a fleet folder and import it."""
    folder.mkdir()
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)
    call_command("import_fleet", str(folder), stdout=StringIO())


def tables_of(units: list[Unit]) -> dict[str, list[Row]]:
    """A depot, and a door with one reading at its end for each unit; faults at their ages."""
    numbered = [(f"U{number:03d}", unit) for number, unit in enumerate(units)]
    tables: dict[str, list[Row]] = {
        "depots": [{"depot": "LAB", "timezone": "UTC"}],
        "trucks": [{"truck": f"T-{door}", "depot": "LAB"} for door, _ in numbered],
        "door_models": [{"door_model": "TEST"}],
        "doors": [
            {
                "door": door,
                "door_model": "TEST",
                "truck": f"T-{door}",
                "mounted_on": FIRST_DAY,
                "record_from": FIRST_DAY,
            }
            for door, _ in numbered
        ],
        "readings": [
            {"door": door, "read_at": f"{LAST_DAY}T08:00", "counter_value": unit.end_cycles}
            for door, unit in numbered
        ],
    }
    faults = [
        {
            "door": door,
            "found_at": f"{FIRST_DAY + timedelta(days=200)}T{8 + number % 12:02d}:00",
            "at_cycles": age,
            "component": "converter",
        }
        for door, unit in numbered
        for number, age in enumerate(unit.failed_at)
    ]
    return {**tables, "faults": faults} if faults else tables


def lives_of(ages: list[int], failed: list[bool], entry: list[int] | None = None) -> list[Row]:
    """One fitted converter per unit, failed at its age or still fitted."""
    return [
        {
            "door": f"U{number:03d}",
            "component": "converter",
            "fitted_on": FIRST_DAY,
            "fitted_at_cycles": 0,
            "observed_from_cycles": entry[number] if entry else "",
            "removed_on": FIRST_DAY + timedelta(days=200) if has_failed else "",
            "removed_at_cycles": age if has_failed else "",
            "removal": "failed" if has_failed else "",
        }
        for number, (age, has_failed) in enumerate(zip(ages, failed, strict=True))
    ]


def ask(name: str, *options: str) -> list[Row]:
    """What `figures NAME options --format json` prints."""
    out = StringIO()
    call_command("figures", name, *options, "--format=json", stdout=out)
    return json.loads(out.getvalue())
