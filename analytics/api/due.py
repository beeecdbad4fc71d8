"""What is due on which door, and when."""

from __future__ import annotations

from datetime import date

from ninja import Router, Schema

from analytics.api.paging import AskedPage, doors_on_page, next_after
from analytics.models import DueTask
from fleetdoors.api.access import MachineRequest, Reader
from fleetdoors.api.call_limit import CallsAMinute

router = Router(tags=["What is due"], auth=Reader())


class DueOut(Schema):
    """One task of one door; the range of dates holds 8 times in 10."""

    door: str
    truck: str | None
    depot: str | None
    task: str
    state: str
    due_on: date | None
    due_on_early: date | None
    due_on_late: date | None
    due_cycles: float | None
    interval_cycles: float | None
    interval_days: float | None
    governed_by: str
    probability_30_days: float | None


class DuePageOut(Schema):
    """The tasks of a page of doors."""

    rows: list[DueOut]
    next_after: str | None


@router.get(
    "",
    response=DuePageOut,
    throttle=CallsAMinute(240, of="due"),
    url_name="due",
    summary="Due tasks by door",
)
def list_due(request: MachineRequest, page: AskedPage) -> DuePageOut:
    """Every task of each door on the page, with its date, range and state as last computed."""
    doors = doors_on_page(request, page)
    shown = [each.door_id for each in doors[: page.limit]]
    tasks = DueTask.objects.current().filter(door__in=shown).with_links()
    return DuePageOut(
        rows=[_told(row) for row in tasks.order_by("door__serial", "task__code")],
        next_after=next_after(doors, page),
    )


def _told(row: DueTask) -> DueOut:
    return DueOut(
        door=row.door.serial,
        truck=row.truck.fleet_number if row.truck else None,
        depot=row.depot.code if row.depot else None,
        task=row.task.code,
        state=row.state,
        due_on=row.due_on,
        due_on_early=row.due_on_early,
        due_on_late=row.due_on_late,
        due_cycles=row.due_cycles,
        interval_cycles=row.interval_cycles,
        interval_days=row.interval_days,
        governed_by=row.governed_by,
        probability_30_days=row.probability_30_days,
    )
