"""Derived rows for tests of pages: written directly, so that a test says what a page is shown."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from analytics.models import (
    Cause,
    Computation,
    DoorFigures,
    DueState,
    DueTask,
    GovernedBy,
    PartOutlook,
    SuspectReading,
    UsageBasis,
)
from fleetdoors.models import Depot, DoorUnit, MaintenanceTask, Mounting, Part
from inspections.models import CounterReading
from tests.factories import NOW, task

TODAY = NOW.date()


def days(count: int) -> date:
    """The day so many days from the day of the tests."""
    return TODAY + timedelta(days=count)


def make_run(*, as_of: datetime = NOW) -> Computation:
    """A finished run whose rows are shown."""
    return Computation.objects.create(
        as_of=as_of, started_at=as_of, finished_at=as_of, is_current=True, doors=0, seconds=1.0
    )


def place(door: DoorUnit) -> dict[str, object]:
    """Truck and depot of a door, as derived rows keep them."""
    mounting = Mounting.objects.open().filter(door=door).select_related("truck__depot").first()
    truck = mounting.truck if mounting else None
    return {"truck": truck, "depot": truck.depot if truck else None}


def make_figures(
    *,
    run: Computation,
    door: DoorUnit,
    cycles_now: float | None = 4_870.0,
    cycles_per_day: float = 50.0,
    basis: UsageBasis = UsageBasis.OWN_READINGS,
    last_read_at: datetime | None = NOW - timedelta(days=2),
    holds_in_row: int = 0,
    door_revision: int | None = None,
) -> DoorFigures:
    return DoorFigures.objects.create(
        generation=run,
        door=door,
        **place(door),
        door_revision=door.revision if door_revision is None else door_revision,
        in_service=True,
        start_cycles=0.0,
        end_cycles=cycles_now or 0.0,
        failures=0,
        cycles_now=cycles_now,
        cycles_per_day=cycles_per_day,
        lower=cycles_per_day * 0.9,
        upper=cycles_per_day * 1.1,
        basis=basis,
        last_read_at=last_read_at,
        last_value=4_770 if last_read_at else None,
        accepted=9 if last_read_at else 0,
        held=0,
        holds_in_row=holds_in_row,
        log_rate=3.9,
        rate_variance=0.01,
    )


def make_due(
    *,
    run: Computation,
    door: DoorUnit,
    code: str = "LUB",
    state: DueState = DueState.LATER,
    due_on: date | None = None,
    window_days: int = 10,
    share_used: float | None = 0.5,
    governed_by: GovernedBy = GovernedBy.CYCLES,
    early: date | None = None,
    late: date | None = None,
    factors: dict[str, float] | None = None,
) -> DueTask:
    """A due date; the window opens and closes so many days before and after it."""
    around = timedelta(days=window_days)
    return DueTask.objects.create(
        generation=run,
        door=door,
        task=task(code),
        **place(door),
        last_done_on=days(-60),
        last_done_cycles=0.0,
        never_done=False,
        interval_cycles=5_000.0,
        interval_days=90.0,
        factor=1.0,
        factors=factors or {},
        due_cycles=5_000.0,
        due_on=due_on,
        due_on_early=early,
        due_on_late=late,
        beyond_horizon=False,
        window_opens_on=due_on - around if due_on else None,
        window_closes_on=due_on + around if due_on else None,
        probability_30_days=0.8,
        governed_by=governed_by,
        state=state,
        share_used=share_used,
        lateness_percent=None,
    )


def make_suspect(
    *,
    run: Computation,
    reading: CounterReading,
    cause: Cause = Cause.DIGITS_SWAPPED,
    suggestion: int | None = None,
    is_held: bool = True,
    settlement: str = "",
    other_door: DoorUnit | None = None,
) -> SuspectReading:
    return SuspectReading.objects.create(
        generation=run,
        reading=reading,
        door=reading.door,
        **place(reading.door),
        is_held=is_held,
        cause=cause,
        probability=0.93,
        suggestion=suggestion,
        suggestion_probability=0.95 if suggestion is not None else None,
        expected_low=4_700.0,
        expected_high=4_900.0,
        settlement=settlement,
        other_door=other_door,
    )


def make_outlook(
    *, run: Computation, part: Part, depot: Depot, suggested_order: int
) -> PartOutlook:
    return PartOutlook.objects.create(
        generation=run,
        part=part,
        depot=depot,
        horizon_days=90,
        mean=4.0,
        variance=4.0,
        p05=1,
        p10=2,
        p50=4,
        p90=7,
        p95=8,
        method="installed base",
        on_hand=0,
        on_order=0,
        service_level=0.95,
        reorder_point=3,
        order_up_to=6,
        suggested_order=suggested_order,
        run_out_on=days(3),
    )


def contained_in(outer: str) -> list[MaintenanceTask]:
    """The tasks that a larger one does as well."""
    return list(task(outer).contains.order_by("code"))
