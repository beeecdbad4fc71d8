"""Faults, tasks done and parts used as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import CodeOf, Flags, Floats, Ints, column
from analytics.datasets.doors import DoorRows
from analytics.datasets.events import fetch_known
from inspections.codes import DetectedBy
from inspections.models import Fault, PartUsed, TaskDone

# What a hit at the dock leaves behind: a bent track, a buckled panel (rule of this program).
KNOCK_MODES = ("FM31", "FM33")
FOUND_AT_CHECKS = (DetectedBy.PREVENTIVE, DetectedBy.INSPECTION)


@dataclass(frozen=True)
class FaultRows:
    """Faults: door row, wall-clock day, cycles (nan = not noted), component id (-1 = none).

    `at_check`: found by preventive work or at an inspection.
    """

    ids: Ints
    door: Ints
    day: Floats
    at_cycles: Floats
    component_id: Ints
    is_failure: Flags
    is_knock: Flags
    at_check: Flags


@dataclass(frozen=True)
class TaskDoneRows:
    """Tasks done: door row, task id, wall-clock day, cycles (nan = not noted)."""

    door: Ints
    task_id: Ints
    day: Floats
    at_cycles: Floats


@dataclass(frozen=True)
class PartUseRows:
    """Parts used: door row, part id, wall-clock day, quantity, depot row; what draws on stock."""

    door: Ints
    part_id: Ints
    epoch: Ints
    day: Floats
    quantity: Floats
    depot: Ints
    draws_on_stock: Flags


def fetch_faults(doors: DoorRows) -> FaultRows:
    """Faults of the doors; runs one query."""
    knock = CodeOf(
        When(mode__in=KNOCK_MODES, then=Value(1)),
        default=Value(0),
    )
    at_check = CodeOf(When(detected_by__in=FOUND_AT_CHECKS, then=Value(1)), default=Value(0))
    rows = fetch_known(
        Fault.objects.all(),
        "found_at",
        doors,
        {
            "id": ("pk", np.int64),
            "cycles": ("at_cycles", np.float64),
            "component": ("component_id", np.float64),
            "failure": ("is_failure", np.int8),
            "knock": (knock, np.int8),
            "check": (at_check, np.int8),
        },
    )
    door = column(rows, "door")
    return FaultRows(
        ids=column(rows, "id"),
        door=door,
        day=doors.wall_days(door, rows["epoch"]),
        at_cycles=column(rows, "cycles"),
        component_id=np.nan_to_num(rows["component"], nan=-1.0).astype(np.int64),
        is_failure=rows["failure"] == 1,
        is_knock=rows["knock"] == 1,
        at_check=rows["check"] == 1,
    )


def fetch_tasks_done(doors: DoorRows) -> TaskDoneRows:
    """Tasks done on the doors; runs one query."""
    rows = fetch_known(
        TaskDone.objects.all(),
        "done_at",
        doors,
        {"task": ("task_id", np.int64), "cycles": ("at_cycles", np.float64)},
    )
    door = column(rows, "door")
    return TaskDoneRows(
        door=door,
        task_id=column(rows, "task"),
        day=doors.wall_days(door, rows["epoch"]),
        at_cycles=column(rows, "cycles"),
    )


def fetch_parts_used(doors: DoorRows) -> PartUseRows:
    """Parts used on the doors, at the depot noted or else the door's; runs one query."""
    rows = fetch_known(
        PartUsed.objects.all(),
        "used_at",
        doors,
        {
            "part": ("part_id", np.int64),
            "quantity": ("quantity", np.float64),
            "depot": ("depot_id", np.float64),
            "draws": ("draws_on_stock", np.int8),
        },
    )
    door = column(rows, "door")
    noted = doors.depots.index_of(rows["depot"])
    return PartUseRows(
        door=door,
        part_id=column(rows, "part"),
        epoch=column(rows, "epoch"),
        day=doors.wall_days(door, rows["epoch"]),
        quantity=column(rows, "quantity"),
        depot=np.where(noted >= 0, noted, doors.depot[door]),
        draws_on_stock=rows["draws"] == 1,
    )
