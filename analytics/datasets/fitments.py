"""Fitted parts as arrays, as they were known at the time."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import (
    CodeOf,
    EpochDays,
    EpochSeconds,
    Floats,
    Ints,
    column,
    fetch_table,
)
from analytics.datasets.doors import DoorRows
from fleetdoors.models import Fitment, Removal


class End(IntEnum):
    """How a part's stay ended, as known."""

    FITTED = 0
    FAILED = 1
    PREVENTIVE = 2
    OTHER = 3


@dataclass(frozen=True)
class FitmentRows:
    """Stays of parts at positions; days and cycles nan = unknown, part id -1 = unknown."""

    ids: Ints
    door: Ints
    component_id: Ints
    part_id: Ints
    fitted_day: Floats
    fitted_at_cycles: Floats
    observed_from_cycles: Floats
    removed_day: Floats
    removed_at_cycles: Floats
    end: Ints


_ENDS = {Removal.FAILED: End.FAILED, Removal.PREVENTIVE: End.PREVENTIVE, Removal.OTHER: End.OTHER}


def fetch_fitments(doors: DoorRows) -> FitmentRows:
    """Fitted parts of the doors; one query. A removal not yet known leaves the part fitted.

    What was taken back later is seen as it stood before.
    """
    queryset = Fitment.objects.all()
    if doors.only is not None:
        queryset = queryset.filter(door__in=doors.only.tolist())
    ended = CodeOf(
        *(When(removal=word, then=Value(int(code))) for word, code in _ENDS.items()),
        default=Value(int(End.FITTED)),
    )
    rows = fetch_table(
        queryset,
        {
            "id": ("pk", np.int64),
            "door": ("door_id", np.int64),
            "component": ("component_id", np.int64),
            "part": ("part_id", np.float64),
            "fitted": (EpochDays("fitted_on"), np.float64),
            "fitted_at": ("fitted_at_cycles", np.float64),
            "observed": ("observed_from_cycles", np.float64),
            "removed": (EpochDays("removed_on"), np.float64),
            "removed_at": ("removed_at_cycles", np.float64),
            "end": (ended, np.int64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "end_entered": (EpochSeconds("end_entered_at"), np.float64),
            "known_from": (EpochSeconds("corrects__superseded_at"), np.float64),
            "superseded": (EpochSeconds("superseded_at"), np.float64),
        },
    )
    door = doors.index_of(rows["door"])
    known = (door >= 0) & ~(rows["fitted"] >= doors.limit_day[door])
    known &= rows["entered"] < doors.moment[door]
    known &= ~(rows["known_from"] >= doors.moment[door])
    known &= ~(rows["superseded"] < doors.moment[door])
    rows, door = rows[known], door[known]
    return _as_known(doors, door, rows)


def _as_known(doors: DoorRows, door: Ints, rows: np.ndarray) -> FitmentRows:
    ahead = (rows["removed"] >= doors.limit_day[door]) | (rows["end_entered"] >= doors.moment[door])
    over = (rows["end"] != End.FITTED) & ~ahead
    return FitmentRows(
        ids=column(rows, "id"),
        door=door,
        component_id=column(rows, "component"),
        part_id=np.nan_to_num(rows["part"], nan=-1.0).astype(np.int64),
        fitted_day=column(rows, "fitted"),
        fitted_at_cycles=column(rows, "fitted_at"),
        observed_from_cycles=column(rows, "observed"),
        removed_day=np.where(over, rows["removed"], np.nan),
        removed_at_cycles=np.where(over, rows["removed_at"], np.nan),
        end=np.where(over, rows["end"], End.FITTED),
    )
