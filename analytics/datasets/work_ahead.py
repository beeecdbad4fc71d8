"""Where each task stands on doors in service, by the rows of a run; evenly chosen doors if many."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from django.db.models import Count, Value, When

from analytics.assessment.severity import ROUGH_USE_DAYS
from analytics.datasets.columns import (
    CodeOf,
    EpochDays,
    EpochSeconds,
    Floats,
    Ints,
    Table,
    fetch_table,
)
from analytics.datasets.work import KNOCK_MODES
from analytics.models import Computation, DoorFigures, DueState, DueTask
from fleetdoors.models import MaintenanceTask, Performer
from inspections.models import Fault


@dataclass(frozen=True)
class ChosenDoors:
    """Ids of the doors looked at, and how many are in service by depot id."""

    ids: Ints
    by_depot: dict[int, int]


@dataclass(frozen=True)
class TaskWork:
    """Tasks by code: minutes of one doing, and whether it needs a technician's visit."""

    minutes: Floats
    needs_visit: Floats


def choose_doors(run: Computation, depot_ids: tuple[int, ...] | None, most: int) -> ChosenDoors:
    """At most so many doors in service at depots in sight, evenly by depot; runs one query."""
    rows = fetch_table(
        DoorFigures.objects.filter(generation=run, in_service=True, depot__isnull=False).at_depots(
            depot_ids
        ),
        {"door": ("door_id", np.int64), "depot": ("depot_id", np.int64)},
    )
    rows = rows[np.lexsort((rows["door"], rows["depot"]))]
    depots, counts = np.unique(rows["depot"], return_counts=True)
    kept = np.unique(np.linspace(0, len(rows) - 1, min(len(rows), most)).round().astype(np.int64))
    return ChosenDoors(rows["door"][kept], dict(zip(depots.tolist(), counts.tolist(), strict=True)))


def fetch_figures(run: Computation, door_ids: Collection[int]) -> Table:
    """Cycles now, rate and last reading of the doors; runs one query."""
    return fetch_table(
        DoorFigures.objects.filter(generation=run, door__in=door_ids),
        {
            "door": ("door_id", np.int64),
            "cycles": ("cycles_now", np.float64),
            "end_cycles": ("end_cycles", np.float64),
            "per_day": ("cycles_per_day", np.float64),
            "log_rate": ("log_rate", np.float64),
            "variance": ("rate_variance", np.float64),
            "read": (EpochSeconds("last_read_at"), np.float64),
        },
    )


def fetch_standing(run: Computation, door_ids: Collection[int]) -> Table:
    """When each task was last done on the doors, and whether a finding asks; runs one query."""
    asked = CodeOf(When(state=DueState.CONDITION, then=Value(1)), default=Value(0))
    return fetch_table(
        DueTask.objects.filter(generation=run, door__in=door_ids),
        {
            "door": ("door_id", np.int64),
            "task": ("task_id", np.int64),
            "cycles": ("last_done_cycles", np.float64),
            "day": (EpochDays("last_done_on"), np.float64),
            "asked": (asked, np.int8),
        },
    )


def fetch_knocks(run: Computation, door_ids: Collection[int]) -> dict[int, int]:
    """Faults left by knocks within the last year, by door id; runs one query."""
    since = run.as_of - timedelta(days=ROUGH_USE_DAYS)
    rows = Fault.objects.in_force().filter(
        door__in=door_ids, mode__in=KNOCK_MODES, found_at__gte=since, found_at__lt=run.as_of
    )
    counted = rows.order_by().values("door_id").annotate(knocks=Count("pk"))
    return dict(counted.values_list("door_id", "knocks"))


def fetch_task_work() -> TaskWork:
    """Minutes of each task, by code; runs one query."""
    rows = list(MaintenanceTask.objects.order_by("code").values_list("minutes", "performer"))
    return TaskWork(
        minutes=np.array([row[0] for row in rows], dtype=float),
        needs_visit=np.array([row[1] != Performer.DRIVER for row in rows], dtype=float),
    )
