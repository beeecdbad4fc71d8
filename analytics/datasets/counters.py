"""Counters as arrays, as they were known at the time."""

from __future__ import annotations

import numpy as np

from analytics.datasets.columns import EpochDays, EpochSeconds, fetch_table
from analytics.datasets.doors import DoorRows
from analytics.datasets.trucks import known_end
from analytics.kernel.exposure import CounterSegments
from fleetdoors.models import Counter


def fetch_counters(doors: DoorRows) -> CounterSegments:
    """Counters of the doors; one query. A later exchange, or its entry, leaves them fitted."""
    queryset = Counter.objects.all()
    if doors.only is not None:
        queryset = queryset.filter(door__in=doors.only.tolist())
    rows = fetch_table(
        queryset,
        {
            "door": ("door_id", np.int64),
            "first": ("first_value", np.float64),
            "last": ("last_value", np.float64),
            "digits": ("digits", np.float64),
            "per_cycle": ("counts_per_cycle", np.float64),
            "fitted": (EpochDays("fitted_on"), np.float64),
            "removed": (EpochDays("removed_on"), np.float64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "end_entered": (EpochSeconds("end_entered_at"), np.float64),
        },
    )
    door = doors.index_of(rows["door"])
    known = (door >= 0) & (rows["fitted"] < doors.limit_day[door])
    known &= rows["entered"] < doors.moment[door]
    rows, door = rows[known], door[known]
    removed = known_end(rows["removed"], rows["end_entered"], doors.depot[door], doors.depots)
    last = np.where(np.isnan(removed), np.nan, rows["last"])
    return CounterSegments(
        door=door,
        first_value=rows["first"],
        last_value=np.nan_to_num(last, nan=-1.0),
        modulus=np.where(np.isnan(rows["digits"]), doors.modulus[door], 10.0 ** rows["digits"]),
        counts_per_cycle=np.where(
            np.isnan(rows["per_cycle"]), doors.counts_per_cycle[door], rows["per_cycle"]
        ),
        fitted_day=rows["fitted"],
        removed_day=removed,
    )
