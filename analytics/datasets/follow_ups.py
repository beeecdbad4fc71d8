"""Findings that ask for a task, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import EpochSeconds, Floats, Ints, fetch_table
from analytics.datasets.doors import DoorRows
from inspections.models import FollowUp


@dataclass(frozen=True)
class FollowUpRows:
    """Follow-ups that were open: door row, task id, wall-clock day of the finding."""

    door: Ints
    task_id: Ints
    day: Floats


def fetch_follow_ups(doors: DoorRows) -> FollowUpRows:
    """Follow-ups of the doors open at `as_of`, an ending not yet known taken away; one query."""
    queryset = FollowUp.objects.filter(opened_at__lt=latest_moment(doors.as_of))
    if doors.only is not None:
        queryset = queryset.filter(door__in=doors.only.tolist())
    rows = fetch_table(
        queryset,
        {
            "door": ("door_id", np.int64),
            "task": ("task_id", np.int64),
            "opened": (EpochSeconds("opened_at"), np.int64),
            "entered": (EpochSeconds("entered_at"), np.int64),
            "closed": (EpochSeconds("closed_at"), np.float64),
            "end_entered": (EpochSeconds("end_entered_at"), np.float64),
        },
    )
    door = doors.index_of(rows["door"])
    rows, door = rows[door >= 0], door[door >= 0]
    moment = doors.moment[door]
    # Comparisons with nan are false: what has no ending has not ended.
    ended = (rows["closed"] < moment) & (rows["end_entered"] < moment)
    open_then = (rows["opened"] < moment) & (rows["entered"] < moment) & ~ended
    rows, door = rows[open_then], door[open_then]
    return FollowUpRows(
        door=door,
        task_id=rows["task"].astype(np.int64),
        day=doors.wall_days(door, rows["opened"]),
    )
