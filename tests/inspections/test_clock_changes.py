"""The nights on which clocks change, in three time zones: nothing is lost, doubled or turned round.

The dates of the changes are those of the IANA time zone database, asked through `zoneinfo`.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.db.models import F

from analytics.models import Computation, DoorFigures
from analytics.recompute import recompute_fleet
from fleetdoors.models import Mounting
from inspections.models import CounterReading
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import import_fleet
from tests.inspections.fleet_folders import NOW, bring_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]

Night = tuple[str, str, str, tuple[str, str], str]
BEGUN = date(2025, 1, 1)
# Depot, zone, an hour that came twice and the two offsets it had, an hour that never was.
NIGHTS: tuple[Night, ...] = (
    ("A", "America/New_York", "2025-11-02T01:30", ("-04:00", "-05:00"), "2026-03-08T02:30"),
    ("B", "Europe/London", "2025-10-26T01:30", ("+01:00", "+00:00"), "2026-03-29T01:30"),
    # Here the clocks move by half an hour only.
    ("C", "Australia/Lord_Howe", "2026-04-05T01:45", ("+11:00", "+10:30"), "2025-10-05T02:15"),
)


def tables() -> dict[str, str]:
    """Three doors, each read before, twice in, and after both nights of its zone."""
    depots = "".join(f"{code},{zone}\n" for code, zone, *_night in NIGHTS)
    trucks = "".join(f"T{code},{code}\n" for code, *_night in NIGHTS)
    doors = "".join(f"D{code},M1,T{code},2025-01-01\n" for code, *_night in NIGHTS)
    readings = "".join(f"D{row}\n" for night in NIGHTS for row in readings_of(*night))
    return {
        "depots": f"depot,timezone\n{depots}",
        "trucks": f"truck,depot\n{trucks}",
        "door_models": "door_model\nM1\n",
        "doors": f"door,door_model,truck,record_from\n{doors}",
        "readings": f"door,read_at,counter_value\n{readings}",
    }


def readings_of(
    code: str, _zone: str, twice: str, offsets: tuple[str, str], never: str
) -> list[str]:
    """About 33 cycles a day, by values that rise with the true order of the moments."""
    begun = [f"2025-0{month}-01T08:00" for month in range(2, 10)]
    nights = [f"{twice}{offsets[0]}", f"{twice}{offsets[1]}", never]
    moments = sorted([*begun, *nights, "2026-05-01T08:00"], key=lambda moment: moment[:16])
    return [
        f"{code},{moment},{33 * (date.fromisoformat(moment[:10]) - BEGUN).days + number}"
        for number, moment in enumerate(moments)
    ]


def moments_of(code: str) -> list[datetime]:
    rows = CounterReading.objects.filter(door__serial=f"D{code}").order_by("counter_value")
    return list(rows.values_list("read_at", flat=True))


@pytest.mark.parametrize("night", NIGHTS, ids=lambda night: night[1])
def test_the_hour_that_came_twice_and_the_one_that_never_was(tmp_path: Path, night: Night) -> None:
    code, zone, twice, _offsets, never = night
    bring_in(tmp_path / "fleet", tables())
    moments = moments_of(code)
    assert moments == sorted(moments), "values rise in the true order"
    local = datetime.fromisoformat(twice).replace(tzinfo=ZoneInfo(zone))
    first, second = local.astimezone(UTC), local.replace(fold=1).astimezone(UTC)
    assert first < second
    assert {first, second} <= set(moments)
    # As much later as the clocks went forward: what a clock that was not put forward showed.
    skipped = datetime.fromisoformat(never).replace(tzinfo=ZoneInfo(zone))
    assert skipped.astimezone(UTC) in moments


def test_without_an_offset_the_first_of_both_hours_is_meant(tmp_path: Path) -> None:
    bring_in(tmp_path / "fleet", tables())
    code, _zone, twice, *_rest = NIGHTS[0]
    value = CounterReading.objects.get(
        read_at=datetime(2025, 11, 2, 5, 30, tzinfo=UTC)
    ).counter_value
    again = {"readings": f"door,read_at,counter_value\nD{code},{twice},{value}\n"}
    assert bring_in(tmp_path / "again", again).changes_nothing


def test_export_and_import_change_nothing(tmp_path: Path) -> None:
    bring_in(tmp_path / "fleet", tables())
    export_fleet(tmp_path / "out")
    report = import_fleet(tmp_path / "out", now=NOW)
    assert not report.refused, [str(each) for each in report.problems]
    assert report.changes_nothing


def test_every_reading_counts_on_the_morning_after_each_night(tmp_path: Path) -> None:
    bring_in(tmp_path / "fleet", tables())
    # As if each reading had been entered when it was read.
    CounterReading.objects.update(entered_at=F("read_at"))
    Mounting.objects.update(entered_at=datetime(2025, 1, 1, tzinfo=UTC))
    for code, zone, twice, _offsets, never in NIGHTS:
        for night in (twice, never):
            morning = date.fromisoformat(night[:10]) + timedelta(days=1)
            recompute_fleet(as_of=morning, started_at=NOW)
            row = DoorFigures.objects.current().get(door__serial=f"D{code}")
            start = datetime(morning.year, morning.month, morning.day, tzinfo=ZoneInfo(zone))
            before = [moment for moment in moments_of(code) if moment < start]
            assert row.accepted + row.held == len(before)
            assert row.held == 0
            assert row.last_read_at == before[-1]
    assert Computation.objects.count() == 1
