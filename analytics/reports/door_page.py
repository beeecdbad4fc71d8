"""A door: who it is, how its tasks stand, what happened to it, and what is fitted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from analytics.models import DoorFigures, DueTask, SuspectReading
from analytics.reports.basis import Basis
from analytics.reports.door_parts import FittedPart, fitted_parts, parts_that_came_off
from analytics.reports.door_strip import DoorLife, door_life
from analytics.reports.doors_page import urgency
from analytics.reports.due_page import figures_of
from analytics.reports.followed_door import FollowedDoor, follow_door
from analytics.reports.suspicion import Suspicion, suspicion
from analytics.reports.wording import TaskState, task_state
from fleetdoors.models import DoorUnit, Fitment, Mounting
from inspections.models import CounterReading, Fault, PartTakenBack, PartUsed, TaskDone
from inspections.views.place import Place

READINGS_SHOWN = 8
EVENTS_SHOWN = 6


@dataclass(frozen=True)
class DoorTask:
    """A task of the door with its slat door."""

    task: DueTask
    state: TaskState


@dataclass(frozen=True)
class ReadingRow:
    """A reading with its lifetime cycles, and what is suspected of one that does not fit."""

    reading: CounterReading
    cycles: float | None
    suspicion: Suspicion | None


@dataclass(frozen=True)
class DoorPage:
    """Everything on a door's page."""

    figures: DoorFigures | None
    is_stale: bool
    tasks: list[DoorTask]
    life: DoorLife | None
    readings: list[ReadingRow]
    readings_in_all: int
    parts: list[FittedPart]
    came_off: list[Fitment]
    came_off_in_all: int
    taken_back: list[PartTakenBack]
    faults: list[Fault]
    faults_in_all: int
    done: list[TaskDone]
    done_in_all: int
    used: list[PartUsed]
    used_in_all: int
    mountings: list[Mounting]


def door_page(place: Place, basis: Basis, *, now: datetime, is_whole: bool) -> DoorPage:
    """The door's page; `is_whole` = every row of its record, not only the latest."""
    door = place.door
    figures = figures_of([door.pk], basis.run).get(door.pk)
    followed = follow_door(door, basis.run, now=now)
    readings = CounterReading.objects.in_force().filter(door=door).newest_first()
    faults = Fault.objects.in_force().filter(door=door).newest_first().select_related("component")
    done = TaskDone.objects.in_force().filter(door=door).select_related("task")
    used = PartUsed.objects.in_force().filter(door=door).select_related("part")
    suspects = _suspects(door, basis)
    every_reading, every_fault = list(readings), list(faults)
    every_done, every_use = list(done.order_by("-done_at", "-pk")), list(used.order_by("-used_at"))
    off = list(parts_that_came_off(door))
    shown = None if is_whole else EVENTS_SHOWN
    return DoorPage(
        figures=figures,
        is_stale=basis.run is not None
        and (figures is None or figures.door_revision != door.revision),
        tasks=door_tasks(door, figures, basis),
        life=door_life(place, followed, every_reading, every_fault, every_done),
        readings=_reading_rows(
            every_reading if is_whole else _latest(every_reading, suspects), followed, suspects
        ),
        readings_in_all=len(every_reading),
        parts=fitted_parts(door, followed, figures, basis),
        came_off=off[:shown],
        came_off_in_all=len(off),
        taken_back=list(PartTakenBack.objects.on_door(door)),
        faults=every_fault[:shown],
        faults_in_all=len(every_fault),
        done=every_done[:shown],
        done_in_all=len(every_done),
        used=every_use[:shown],
        used_in_all=len(every_use),
        mountings=list(door.mountings.select_related("truck__depot").order_by("-mounted_on")),
    )


def door_tasks(door: DoorUnit, figures: DoorFigures | None, basis: Basis) -> list[DoorTask]:
    """The door's tasks with their slat doors, the most pressing first; queries once."""
    rows = DueTask.objects.filter(generation=basis.run, door=door).select_related("task", "depot")
    worst_first = sorted(rows.order_by("pk"), key=partial(urgency, basis=basis))
    return [DoorTask(row, task_state(row, figures, basis)) for row in worst_first]


def _suspects(door: DoorUnit, basis: Basis) -> dict[int, Suspicion]:
    rows = SuspectReading.objects.filter(generation=basis.run, door=door)
    return {row.reading_id: suspicion(row) for row in rows.select_related("other_door").order_by()}


def _latest(readings: list[CounterReading], suspects: dict[int, Suspicion]) -> list[CounterReading]:
    """The latest readings, and every held one however old."""
    older = [row for row in readings[READINGS_SHOWN:] if row.pk in suspects]
    return readings[:READINGS_SHOWN] + older


def _reading_rows(
    readings: Iterable[CounterReading],
    followed: FollowedDoor,
    suspects: dict[int, Suspicion],
) -> list[ReadingRow]:
    cycles = followed.cycles_by_reading()
    return [ReadingRow(row, cycles.get(row.pk), suspects.get(row.pk)) for row in readings]
