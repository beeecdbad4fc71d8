"""The wall: a depot's doors, each drawn by its most pressing task, the worst first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count
from django.urls import reverse
from django.utils.translation import ngettext

from analytics.models import DoorFigures, DueTask
from analytics.reports.basis import Basis
from analytics.reports.standing import standing
from analytics.reports.wording import sign_share, state_words, task_words
from fleetdoors.models import Depot, MaintenanceTask
from fleetdoors.templatetags.units import number

# A wall is looked at, not searched: as many as a phone shows in three or four swipes. What does not
# fit stands in the list of doors.
DOORS_SHOWN = 24
# Each wall costs a query of its own, so that their number is bounded.
WALLS_SHOWN = 12
_FETCHED_AT_ONCE = 250


@dataclass(frozen=True)
class WallDoor:
    """A door of the wall, under its truck's number."""

    url: str
    label: str
    share: float | None
    state: str
    words: str


@dataclass(frozen=True)
class WallGroup:
    """A depot's part of the wall."""

    title: str
    note: str
    doors: list[WallDoor]
    more: int
    more_url: str


@dataclass(frozen=True)
class Wall:
    """The walls of some depots, and the depots that did not fit."""

    groups: list[WallGroup]
    other_depots: list[Depot]


def wall(depots: Sequence[Depot], basis: Basis) -> Wall:
    """The wall of each depot with doors; queries thrice, and once per depot shown."""
    counted = dict(
        DoorFigures.objects.filter(generation=basis.run, in_service=True, depot__isnull=False)
        .order_by()
        .values_list("depot")
        .annotate(Count("pk"))
    )
    filled = [depot for depot in depots if counted.get(depot.pk)]
    shown, limit = filled[:WALLS_SHOWN], _rows_that_hold_the_doors()
    worst = [_worst_of_each_door(depot, limit, basis) for depot in shown]
    tasks = DueTask.objects.select_related("door", "truck", "task").in_bulk(
        [task for wall_of_depot in worst for task in wall_of_depot]
    )
    groups = [
        _group(depot, counted[depot.pk], [tasks[task] for task in ids if task in tasks], basis)
        for depot, ids in zip(shown, worst, strict=True)
    ]
    return Wall(groups, filled[WALLS_SHOWN:])


def _group(depot: Depot, doors: int, worst: list[DueTask], basis: Basis) -> WallGroup:
    return WallGroup(
        title=str(depot),
        note=ngettext("%(doors)s door", "%(doors)s doors", doors) % {"doors": number(doors)},
        doors=[_door(task, basis) for task in worst],
        more=max(doors - len(worst), 0),
        more_url=reverse("door-list", query={"depot": depot.code}),
    )


def _rows_that_hold_the_doors() -> int:
    """A door has one row per listed task, so that so many rows hold enough different doors."""
    return DOORS_SHOWN * max(MaintenanceTask.objects.on_due_lists().count(), 1)


def _worst_of_each_door(depot: Depot, limit: int, basis: Basis) -> list[int]:
    """Ids of each door's first task in order of date, for the first doors; queries once."""
    rows = (
        DueTask.objects.filter(generation=basis.run, depot=depot)
        .soonest_first()
        .values_list("pk", "door")
    )
    found: dict[int, int] = {}
    for task, door in rows[:limit].iterator(chunk_size=_FETCHED_AT_ONCE):
        found.setdefault(door, task)
        if len(found) == DOORS_SHOWN:
            break
    return list(found.values())


def _door(task: DueTask, basis: Basis) -> WallDoor:
    state = standing(task, basis)
    return WallDoor(
        url=reverse("door-detail", args=[task.door.serial]),
        label=task.truck.fleet_number if task.truck else task.door.serial,
        share=sign_share(task, state),
        state=state.value,
        words=task_words(task, state_words(task, state, basis)),
    )
