"""Event rows (readings, faults, work) known at the moment that `as_of` means for their door."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import Column, EpochSeconds, Ints, Table, fetch_table
from analytics.datasets.doors import DoorRows
from fleetdoors.models.record import RecordQuerySet


def fetch_known(
    queryset: RecordQuerySet, moment_field: str, doors: DoorRows, columns: dict[str, Column]
) -> Table:
    """Rows of the doors that happened and were entered before `as_of`, and stood then.

    Columns `door` (row of `doors`) and `epoch` (seconds) are added. Runs one query.
    """
    if doors.only is not None:
        queryset = queryset.filter(door__in=doors.only.tolist())
    wanted: dict[str, Column] = {
        "door": ("door_id", np.int64),
        "epoch": (EpochSeconds(moment_field), np.int64),
        **columns,
    }
    before = {f"{moment_field}__lt": latest_moment(doors.as_of)}
    if isinstance(doors.as_of, datetime):
        rows = fetch_table(queryset.filter(**before).entered_before(doors.as_of), wanted)
        return _keep_known_doors(rows, doors)
    wanted["entered"] = (EpochSeconds("entered_at"), np.int64)
    wanted["superseded"] = (EpochSeconds("superseded_at"), np.float64)
    rows = _keep_known_doors(fetch_table(queryset.filter(**before), wanted), doors)
    moment = doors.moment[rows["door"]]
    stands = np.isnan(rows["superseded"]) | (rows["superseded"] >= moment)
    return rows[(rows["epoch"] < moment) & (rows["entered"] < moment) & stands]


def _keep_known_doors(rows: Table, doors: DoorRows) -> Table:
    row: Ints = doors.index_of(rows["door"])
    rows["door"] = row
    return rows if (row >= 0).all() else rows[row >= 0]
