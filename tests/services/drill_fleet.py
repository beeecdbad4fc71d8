"""A small fleet at four depots for drills, and what is asked of its database meanwhile."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

import psycopg

from tests.services.postgresql import Cluster
from tests.services.processes import Installation
from tests.services.waiting import wait_until

ZONES = ("America/New_York", "Europe/London", "Australia/Sydney", "UTC")
DOORS_EACH, WEEKS = 3, 40
# The day after everything on record, so that the clock has no say.
AS_OF = "2026-07-01"
LAST_WEEK = datetime(2026, 6, 22, 7, 40)
FIGURES = (
    ("mcbf", "--by", "depot"),
    ("usage",),
    ("due",),
    ("life",),
    ("suspects",),
    ("demand", "--horizon", "90"),
)
ALL_FIGURES = f"""
import json
from io import StringIO
from django.core.management import call_command
found = {{}}
for name in {FIGURES!r}:
    text = StringIO()
    call_command("figures", *name, "--as-of", {AS_OF!r}, "--format", "json", stdout=text)
    found[" ".join(name)] = json.loads(text.getvalue())
print("FIGURES" + json.dumps(found))
"""
RECORD = (
    "fleetdoors_doorunit", "fleetdoors_mounting", "fleetdoors_fitment",
    "inspections_counterreading", "inspections_fault", "inspections_partused",
    "inspections_taskdone",
)  # fmt: skip
STALE = """
SELECT count(*) FROM fleetdoors_doorunit AS door
LEFT JOIN analytics_doorfigures AS figures ON figures.door_id = door.id
 AND figures.generation_id = (SELECT id FROM analytics_computation WHERE is_current)
WHERE figures.door_revision IS DISTINCT FROM door.revision
"""
WAITING_FOR_A_LOCK = """
SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'
"""
# Whoever should have answered has been silent for an hour: the sweep need not wait in a test.
AGE = (
    "UPDATE analytics_computation SET started_at = started_at - interval '1 hour', "
    "finished_at = finished_at - interval '1 hour'",
    "UPDATE analytics_computationslice SET asked_at = asked_at - interval '1 hour', "
    "finished_at = finished_at - interval '1 hour'",
)


def write_drill_fleet(folder: Path) -> Path:
    """Twelve doors at four depots in four time zones, read every week."""
    folder.mkdir(parents=True)
    depots, trucks, doors, readings, faults, used, fitted = ([] for _ in range(7))
    for depot, zone in enumerate(ZONES):
        depots.append(f"P{depot},{zone}")
        for number in range(DOORS_EACH):
            door = f"{depot}{number}"
            trucks.append(f"T{door},P{depot},parcel")
            doors.append(f"D{door},M1,T{door},2025-01-01")
            fitted.append(f"D{door},spring,S-1,2025-01-01,0")
            step = 200 + 30 * depot + 10 * number
            readings += [
                f"D{door},{LAST_WEEK - timedelta(weeks=WEEKS - week):%Y-%m-%dT%H:%M},{step * week}"
                for week in range(1, WEEKS)
            ]
            faults.append(f"D{door},2026-0{1 + number}-1{depot}T09:00,spring,yes")
            used.append(f"D{door},2026-0{1 + number}-1{depot}T10:00,S-1,1,P{depot}")
    tables = {
        "depots": ("depot,timezone", depots),
        "trucks": ("truck,depot,route_kind", trucks),
        "door_models": ("door_model", ["M1"]),
        "parts": ("part,name,component", ["S-1,Spring,spring"]),
        "doors": ("door,door_model,truck,record_from", doors),
        "readings": ("door,read_at,counter_value", readings),
        "fitments": ("door,component,part,fitted_on,fitted_at_cycles", fitted),
        "faults": ("door,found_at,component,is_failure", faults),
        "parts_used": ("door,used_at,part,quantity,depot", used),
    }
    for name, (header, rows) in tables.items():
        (folder / f"{name}.csv").write_text("\n".join([header, *rows]) + "\n")
    return folder


def later_readings(folder: Path, day: date = date(2026, 6, 29)) -> Path:
    """A folder with one more reading of every door."""
    folder.mkdir(parents=True)
    rows = [
        f"D{depot}{number},{day}T08:00,{(200 + 30 * depot + 10 * number) * (WEEKS + 1)}"
        for depot in range(len(ZONES))
        for number in range(DOORS_EACH)
    ]
    (folder / "readings.csv").write_text("\n".join(["door,read_at,counter_value", *rows]) + "\n")
    return folder


def figures_of(installation: Installation) -> dict[str, list[dict[str, object]]]:
    """Every figure of an installation, in one process."""
    said = installation.do("shell", "--no-imports", "-c", ALL_FIGURES)
    [line] = [line for line in said.splitlines() if line.startswith("FIGURES")]
    found: dict[str, list[dict[str, object]]] = json.loads(line.removeprefix("FIGURES"))
    return found


class DrillDatabase:
    """What a drill asks of an installation's PostgreSQL database, and does to it."""

    def __init__(self, cluster: Cluster, installation: Installation) -> None:
        self.cluster = cluster
        self.name = installation.settings["DATABASE_URL"].rpartition("/")[2]

    def ask(self, query: str) -> int:
        """The one number that a query gives."""
        with self.cluster.connect(self.name) as connection:
            row = connection.execute(query).fetchone()  # type: ignore[arg-type]
        return int(row[0]) if row else 0

    def record(self) -> dict[str, int]:
        """How many rows each table of the record holds."""
        return {table: self.ask(f"SELECT count(*) FROM {table}") for table in RECORD}

    def stale_doors(self) -> int:
        """How many doors have figures that are older than their record."""
        return self.ask(STALE)

    def runs(self) -> int:
        return self.ask("SELECT count(*) FROM analytics_computation")

    def shown(self) -> int:
        return self.ask("SELECT coalesce(max(id), 0) FROM analytics_computation WHERE is_current")

    def age(self) -> None:
        """Let an hour pass for everything that is under way."""
        with self.cluster.connect(self.name) as connection:
            for statement in AGE:
                connection.execute(statement)  # type: ignore[arg-type]

    @contextmanager
    def nobody_writes(self, table: str) -> Iterator[psycopg.Connection]:
        """Whoever writes into the table waits until the block ends."""
        with self.cluster.connect(self.name) as connection, connection.transaction():
            connection.execute(f"LOCK TABLE {table} IN SHARE MODE")  # type: ignore[arg-type]
            yield connection

    def wait_for_waiting(self, connection: psycopg.Connection) -> int:
        """Wait until somebody waits for a lock; the number of that session."""

        def waiting() -> int:
            # Within a transaction the list of sessions is read once and then remembered.
            connection.execute("SELECT pg_stat_clear_snapshot()")
            row = connection.execute(WAITING_FOR_A_LOCK).fetchone()
            return int(row[0]) if row else 0

        return wait_until(waiting, what="a session that waits for a lock", seconds=120)
