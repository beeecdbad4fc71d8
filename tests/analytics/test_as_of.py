"""Nothing dated or entered after a day may influence the figures as of that day.

The other way to know what was known: take a copy of the record back to that day, row by row, and
ask the same question of what is left.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from io import StringIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command

from analytics.figures import FIGURES
from analytics.kernel.schedule import Schedule, preview
from analytics.kernel.schedule_problem import ScheduleProblem
from analytics.synthetic.folder import FleetPlan, write_fleet
from fleetdoors.models import Counter, DoorUnit, Fitment, LayUp, MaintenanceTask, Mounting
from inspections.models import (
    CounterReading,
    Fault,
    PartUsed,
    StockCount,
    StockMovement,
    TaskDone,
)
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.ledger_record import book_count

UNTIL = date(2026, 6, 26)
DAY = UNTIL - timedelta(days=150)
NOW = datetime(2026, 6, 28, 12, tzinfo=UTC)
ASKED = {
    "mcbf": ("--by=component",),
    "mcf": ("--by=depot",),
    "trend": ("--by=route_kind",),
    "survival": ("--component=converter",),
    "life": (),
    "interval": ("--component=spring", "--cost-preventive=100", "--cost-failure=700"),
    "usage": (),
    "due": (),
    "suspects": (),
    "demand": (),
    "schedule": (),
}
pytestmark = pytest.mark.django_db


@pytest.fixture
def fleet(tmp_path: Path, recompute_requests) -> None:
    """A made fleet with exchanges, slips, moves, lay-ups and a retirement."""
    folder = tmp_path / "fleet"
    write_fleet(folder, FleetPlan(doors=40, days=500, seed=11, scenario="demo", until=UNTIL))
    outcome = import_fleet(folder, now=NOW)
    assert not outcome.refused, outcome.problems


@pytest.fixture(autouse=True)
def _no_clock_in_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans by search alone: the same for the same record, however busy the machine is.

    The solver stops by the clock, and then keeps whichever plan it has found so far.
    """

    def searched(problems: list[ScheduleProblem], *, seconds: float) -> list[Schedule]:
        assert seconds > 0
        return [preview(problem) for problem in problems]

    monkeypatch.setattr("analytics.figures.schedule.schedule_depots", searched)


def ask(name: str, *options: str) -> list[dict[str, object]]:
    out = StringIO()
    call_command("figures", name, "--format=json", f"--as-of={DAY}", *options, stdout=out)
    return json.loads(out.getvalue())


def start_of_day(door: DoorUnit) -> datetime:
    """The start of the day where the door's truck was, from its mountings one by one."""
    for mounting in door.mountings.select_related("truck__depot"):
        if mounting.mounted_on < DAY and (mounting.removed_on or DAY) >= DAY:
            return datetime.combine(DAY, time(), ZoneInfo(mounting.truck.depot.timezone))
    return datetime.combine(DAY, time(), UTC)


def take_back() -> None:
    """Delete what came later and open what ended later, one row after the other."""
    later = StockCount.objects.filter(counted_at__date__gte=DAY)
    # The ledger itself refuses to forget.
    StockMovement.objects.filter(stock_count__in=later)._raw_delete("default")
    later.delete()
    for door in DoorUnit.objects.all():
        moment = start_of_day(door)
        for model, field in (
            (CounterReading, "read_at"),
            (Fault, "found_at"),
            (TaskDone, "done_at"),
            (PartUsed, "used_at"),
        ):
            model.objects.filter(door=door, **{f"{field}__gte": moment}).delete()
        for model, begun in (
            (Fitment, "fitted_on"),
            (Counter, "fitted_on"),
            (Mounting, "mounted_on"),
        ):
            model.objects.filter(door=door, **{f"{begun}__gte": DAY}).delete()
    opened = {"removed_on": None, "end_entered_at": None}
    Fitment.objects.filter(removed_on__gte=DAY).update(removed_at_cycles=None, removal="", **opened)
    Counter.objects.filter(removed_on__gte=DAY).update(last_value=None, **opened)
    Mounting.objects.filter(removed_on__gte=DAY).update(**opened)
    LayUp.objects.filter(from_on__gte=DAY).delete()
    LayUp.objects.filter(until_on__gte=DAY).update(until_on=None)
    for door in DoorUnit.objects.filter(record_from__gte=DAY):
        Fitment.objects.filter(door=door).delete()
        Counter.objects.filter(door=door).delete()
        door.delete()
    DoorUnit.objects.filter(retired_on__gte=DAY).update(retired_on=None)


def assert_same(found: object, expected: object) -> None:
    if isinstance(expected, float) and isinstance(found, float):
        assert found == pytest.approx(expected, rel=1e-9)
    else:
        assert found == expected


def test_later_rows_change_no_figure(fleet):
    assert set(ASKED) == set(FIGURES)
    with_later_rows = {name: ask(name, *options) for name, options in ASKED.items()}
    readings = CounterReading.objects.count()
    take_back()
    assert CounterReading.objects.count() < readings
    for name, options in ASKED.items():
        without = ask(name, *options)
        assert len(with_later_rows[name]) == len(without) > 0, name
        for found, expected in zip(with_later_rows[name], without, strict=True):
            for key, value in expected.items():
                assert_same(found[key], value)


def test_later_entries_about_the_past_change_no_figure(fleet):
    before = {name: ask(name, *options) for name, options in ASKED.items()}
    door = DoorUnit.objects.order_by("serial").first()
    past = datetime.combine(DAY - timedelta(days=40), time(13), UTC)
    late = datetime.combine(DAY + timedelta(days=2), time(9), UTC)
    CounterReading.objects.create(door=door, read_at=past, counter_value=123_456, entered_at=late)
    fault = Fault.objects.exclude(component=None).order_by("pk").first()
    Fault.objects.create(door=door, found_at=past, component=fault.component, entered_at=late)
    task = TaskDone.objects.order_by("pk").first().task
    TaskDone.objects.create(door=door, task=task, done_at=past, at_cycles=1, entered_at=late)
    part = PartUsed.objects.order_by("pk").first().part
    PartUsed.objects.create(door=door, part=part, used_at=past, quantity=500, entered_at=late)
    for stock in StockCount.objects.all()[:3]:
        late_count = StockCount.objects.create(
            depot=stock.depot, part=stock.part, counted_at=past, on_hand=999, entered_at=late
        )
        book_count(late_count)
    assert {name: ask(name, *options) for name, options in ASKED.items()} == before


def do_what_was_planned(visit):
    """Its tasks were done the day before, so that there is nothing left to visit the truck for."""
    past = datetime.combine(DAY - timedelta(days=1), time(13), UTC)
    door = DoorUnit.objects.filter(mountings__truck__fleet_number=visit["truck"]).first()
    for task in MaintenanceTask.objects.filter(code__in=visit["tasks"].split("+")):
        TaskDone.objects.create(door=door, task=task, done_at=past, entered_at=past)


def test_the_same_entries_known_in_time_do_change_figures(fleet):
    """Without this, a question that looks at nothing would pass the two checks above."""
    before = {name: ask(name, *options) for name, options in ASKED.items()}
    door = DoorUnit.objects.filter(mountings__isnull=False).order_by("serial").first()
    past = datetime.combine(DAY - timedelta(days=40), time(13), UTC)
    CounterReading.objects.create(door=door, read_at=past, counter_value=3, entered_at=past)
    other = DoorUnit.objects.filter(mountings__isnull=False).order_by("serial").last()
    other.readings.filter(read_at__lt=past).order_by("read_at").last().delete()
    fault = Fault.objects.exclude(component=None).order_by("pk").first()
    Fault.objects.create(door=door, found_at=past, component=fault.component, entered_at=past)
    fitment = Fitment.objects.filter(removal="failed", removed_on__lt=DAY, component__code="spring")
    fitment.filter(pk=fitment.first().pk).update(removal="preventive")
    converter = Fitment.objects.filter(removal="failed", component__code="converter").first()
    Fitment.objects.filter(pk=converter.pk).update(removal="other")
    do_what_was_planned(before["schedule"][0])
    changed = {name for name, options in ASKED.items() if ask(name, *options) != before[name]}
    assert changed == set(FIGURES)
