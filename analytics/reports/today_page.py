"""What needs somebody today, question by question."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce

from analytics.models import (
    DoorFigures,
    DueState,
    DueTask,
    PartOutlook,
    UsageBasis,
)
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis
from analytics.reports.due_page import figures_of
from analytics.reports.settle_page import waiting
from analytics.reports.standing import stands
from analytics.reports.wording import TaskState, task_state
from fleetdoors.models import Depot, MaintenanceTask

SHOWN = 5
WEEK_DAYS = 7
_MINUTES_AN_HOUR = 60


@dataclass(frozen=True)
class Overdue:
    """What is late: how many tasks on how many doors, and the doors that wait longest."""

    tasks: int
    doors: int
    first: list[tuple[DueTask, TaskState]]


@dataclass(frozen=True)
class Week:
    """A depot's work that falls due within a week, overdue work with it, against its bay hours."""

    depot: Depot
    tasks: int
    minutes: int
    bay_minutes: float | None

    @property
    def bay_minutes_a_day(self) -> float | None:
        """Minutes of the bay on one day."""
        return None if self.bay_minutes is None else self.bay_minutes / WEEK_DAYS

    @property
    def is_too_much(self) -> bool:
        """Whether there is more work than hours."""
        return self.bay_minutes is not None and self.minutes > self.bay_minutes


@dataclass(frozen=True)
class Doubts:
    """Figures not to be trusted: readings held, doors read too long ago, doors never read."""

    held: int
    stale: int
    unread: int
    doors: int

    @property
    def is_none(self) -> bool:
        """Whether there is nothing to doubt."""
        return not (self.held or self.stale or self.unread)


@dataclass(frozen=True)
class Orders:
    """Parts of which something is to be ordered, those that run out first."""

    parts: int
    first: list[PartOutlook]


def overdue(depot_ids: tuple[int, ...] | None, basis: Basis) -> Overdue:
    """Late tasks, those longest past their day first; queries four times."""
    late = DueTask.objects.filter(generation=basis.run).at_depots(depot_ids)
    late = late.filter(stands(DueState.LATE, basis), due_on__lte=basis.today)
    counted = late.order_by().aggregate(tasks=Count("pk"), doors=Count("door", distinct=True))
    first = _one_of_each_door(late.with_links().soonest_first())
    figures = figures_of([row.door_id for row in first], basis.run)
    shown = [(row, task_state(row, figures.get(row.door_id), basis)) for row in first]
    return Overdue(counted["tasks"], counted["doors"], shown)


def _one_of_each_door(late: DueTaskQuerySet) -> list[DueTask]:
    """The first task of each door, for the first few doors: one neglected door is not the list."""
    tasks = MaintenanceTask.objects.on_due_lists().count()
    found: dict[int, DueTask] = {}
    for row in late[: SHOWN * max(tasks, 1)]:
        found.setdefault(row.door_id, row)
    return list(found.values())[:SHOWN]


def weeks(depots: Iterable[Depot], basis: Basis) -> list[Week]:
    """The week's work at each depot; a task inside a larger one that is due too costs nothing.

    Queries twice.
    """
    here = {depot.pk: depot for depot in depots}
    until = basis.today + timedelta(days=WEEK_DAYS)
    due = DueTask.objects.filter(generation=basis.run, due_on__lte=until, depot__in=here)
    rows = due.exclude(_done_with_a_larger_one(due)).order_by()
    work = {
        row["depot"]: row
        for row in rows.values("depot").annotate(
            tasks=Count("pk"), minutes=Coalesce(Sum("task__minutes"), 0)
        )
    }
    nothing = {"tasks": 0, "minutes": 0}
    return [
        _week(depot, work.get(pk, nothing)["tasks"], work.get(pk, nothing)["minutes"])
        for pk, depot in here.items()
    ]


def _done_with_a_larger_one(due: DueTaskQuerySet) -> Q:
    """Rows of tasks that another task, due on the same door, does as well; queries once.

    Said door by door with one plain list for each larger task: a subquery for every row would
    take a large fleet minutes.
    """
    inside: dict[int, list[int]] = {}
    pairs = MaintenanceTask.contains.through.objects.values_list(
        "from_maintenancetask", "to_maintenancetask"
    )
    for larger, smaller in pairs:
        inside.setdefault(larger, []).append(smaller)
    covered = Q(pk__in=())
    for larger, within in inside.items():
        covered |= Q(task__in=within, door__in=due.filter(task=larger).order_by().values("door"))
    return covered


def _week(depot: Depot, tasks: int, minutes: int) -> Week:
    hours = depot.bay_hours_per_day
    bay = None if hours is None else hours * WEEK_DAYS * _MINUTES_AN_HOUR
    return Week(depot, tasks, minutes, bay)


def doubts(depot_ids: tuple[int, ...] | None, basis: Basis) -> Doubts:
    """What the figures of the page cannot be trusted for; queries twice."""
    doors = DoorFigures.objects.filter(generation=basis.run, in_service=True).at_depots(depot_ids)
    counted = doors.aggregate(
        doors=Count("pk"),
        stale=Count("pk", filter=Q(basis=UsageBasis.STALE)),
        unread=Count("pk", filter=Q(last_read_at__isnull=True)),
    )
    return Doubts(held=waiting(depot_ids, basis).count(), **counted)


def orders(depot_ids: tuple[int, ...] | None, basis: Basis) -> Orders:
    """What to order today; queries twice."""
    rows = PartOutlook.objects.filter(generation=basis.run).at_depots(depot_ids).to_order()
    first = list(rows.with_links().soonest_out_first()[:SHOWN])
    return Orders(rows.count(), first)
