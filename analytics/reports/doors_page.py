"""Which doors the list of doors shows, and what stands beside each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from django.db.models import Q, QuerySet

from analytics.models import DoorFigures, DueTask, UsageBasis
from analytics.reports.basis import Basis
from analytics.reports.due_page import figures_of
from analytics.reports.standing import standing
from analytics.reports.wording import TaskState, task_state
from fleetdoors.models import DoorUnit, Mounting, Truck, User

HELD, STALE, UNREAD = "held", "stale", "unread"
# What the urgency of a task is read from; a page ranks some 14 of them for each door it shows.
_RANKED_BY = (
    "door_id", "state", "due_on", "window_opens_on", "window_closes_on", "share_used"
)  # fmt: skip
_WORST_FIRST = ("late", "condition", "due", "soon", "later", "unknown")


@dataclass(frozen=True)
class DoorChoice:
    """What a person wants listed; empty means every one."""

    depot_id: int | None = None
    model_id: int | None = None
    words: str = ""
    doubt: str = ""
    with_retired: bool = False


@dataclass(frozen=True)
class DoorRow:
    """A door with the truck it is on, its figures and its most pressing task."""

    door: DoorUnit
    truck: Truck | None
    figures: DoorFigures | None
    task: DueTask | None
    state: TaskState | None


def doors_chosen(choice: DoorChoice, user: User, basis: Basis) -> QuerySet[DoorUnit]:
    """The doors chosen, of those a person may see, by serial."""
    doors = DoorUnit.objects.visible_to(user)
    if not choice.with_retired:
        doors = doors.in_service(as_of=basis.today)
    mounted = Mounting.objects.open()
    if choice.depot_id is not None:
        doors = doors.filter(pk__in=mounted.filter(truck__depot=choice.depot_id).values("door"))
    if choice.model_id is not None:
        doors = doors.filter(door_model=choice.model_id)
    if choice.words:
        on_truck = mounted.filter(truck__fleet_number__icontains=choice.words).values("door")
        doors = doors.filter(Q(serial__icontains=choice.words) | Q(pk__in=on_truck))
    if choice.doubt:
        doors = doors.filter(pk__in=_doubted(choice.doubt, basis).values("door"))
    return doors.select_related("door_model").order_by("serial")


def _doubted(doubt: str, basis: Basis) -> QuerySet[DoorFigures]:
    rows = DoorFigures.objects.filter(generation=basis.run).order_by()
    if doubt == HELD:
        return rows.filter(held__gt=0)
    if doubt == STALE:
        return rows.filter(basis=UsageBasis.STALE)
    return rows.filter(last_read_at__isnull=True)


def door_rows(doors: Sequence[DoorUnit], basis: Basis) -> list[DoorRow]:
    """What stands beside each door of a page; queries four times."""
    ids = [door.pk for door in doors]
    mounted = Mounting.objects.open().filter(door__in=ids).select_related("truck__depot")
    trucks = {mounting.door_id: mounting.truck for mounting in mounted}
    figures = figures_of(ids, basis.run)
    worst = _most_pressing(ids, basis)
    return [
        DoorRow(
            door=door,
            truck=trucks.get(door.pk),
            figures=figures.get(door.pk),
            task=worst.get(door.pk),
            state=_state(worst.get(door.pk), figures.get(door.pk), basis),
        )
        for door in doors
    ]


def _state(task: DueTask | None, figures: DoorFigures | None, basis: Basis) -> TaskState | None:
    return task_state(task, figures, basis) if task else None


def _most_pressing(door_ids: Sequence[int], basis: Basis) -> dict[int, DueTask]:
    """The most pressing task of each door."""
    rows = DueTask.objects.filter(generation=basis.run, door__in=door_ids)
    worst: dict[int, int] = {}
    for row in sorted(rows.only(*_RANKED_BY).order_by("pk"), key=partial(urgency, basis=basis)):
        worst.setdefault(row.door_id, row.pk)
    linked = DueTask.objects.select_related("task", "depot").filter(pk__in=worst.values())
    return {row.door_id: row for row in linked.order_by()}


@dataclass(frozen=True, order=True)
class Urgency:
    """How pressing a task is; the most pressing sorts first."""

    state: int
    due_on: date
    share_left: float


def urgency(task: DueTask, *, basis: Basis) -> Urgency:
    """Sort key: the worst state first, then the earliest date."""
    place = _WORST_FIRST.index(standing(task, basis).value)
    return Urgency(place, task.due_on or date.max, -(task.share_used or 0.0))
