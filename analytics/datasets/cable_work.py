"""When the coil cable of a door was changed or re-coiled, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import EpochSeconds, Flags, Floats, Ints, Table, fetch_table
from analytics.datasets.doors import DoorRows
from analytics.datasets.fleet import Fleet
from inspections.models import FollowUp, Repair

COIL_CABLE, COILING = "coil_cable", "COI"


@dataclass(frozen=True)
class CableWorkRows:
    """Work after which a cable is another one: door row, wall-clock day, fitted or re-coiled.

    Of a fitted cable only the date is known: its day is the start of that date.
    """

    door: Ints
    day: Floats
    is_fitted: Flags


def fetch_cable_work(fleet: Fleet) -> CableWorkRows:
    """Cables fitted, repaired, or re-coiled because of a finding, before `as_of`; two queries.

    The look at the cable that falls due every quarter does not count: it leaves a sound cable as
    it was, and were it counted no cable would ever have the measurements that a trend takes.
    """
    doors, fitted = fleet.doors, fleet.fitments
    codes = np.array(fleet.components.codes)
    cables = fleet.components.ids[codes == COIL_CABLE]
    chosen = np.isin(fitted.component_id, cables) & ~np.isnan(fitted.fitted_day)
    found = [
        _work(fitted.door[chosen], fitted.fitted_day[chosen], is_fitted=True),
        _worked(doors, _re_coilings(doors)),
        _worked(doors, _repairs(doors)),
    ]
    door = np.concatenate([each.door for each in found])
    day = np.concatenate([each.day for each in found])
    is_fitted = np.concatenate([each.is_fitted for each in found])
    order = np.lexsort((day, door))
    return CableWorkRows(door[order], day[order], is_fitted[order])


def _work(door: Ints, day: Floats, *, is_fitted: bool) -> CableWorkRows:
    return CableWorkRows(door, day, np.full(len(door), is_fitted))


def _re_coilings(doors: DoorRows) -> Table:
    """Re-coilings that a finding had asked for."""
    closed = FollowUp.objects.filter(
        task__code=COILING, task_done__isnull=False, closed_at__lt=latest_moment(doors.as_of)
    )
    if doors.only is not None:
        closed = closed.filter(door__in=doors.only.tolist())
    return fetch_table(
        closed,
        {
            "door": ("door_id", np.int64),
            "epoch": (EpochSeconds("closed_at"), np.int64),
            "entered": (EpochSeconds("end_entered_at"), np.float64),
            "superseded": (EpochSeconds("task_done__superseded_at"), np.float64),
        },
    )


def _repairs(doors: DoorRows) -> Table:
    """Repairs of faults at the cable."""
    repaired = Repair.objects.filter(
        fault__component__code=COIL_CABLE, repaired_at__lt=latest_moment(doors.as_of)
    )
    if doors.only is not None:
        repaired = repaired.filter(fault__door__in=doors.only.tolist())
    return fetch_table(
        repaired,
        {
            "door": ("fault__door_id", np.int64),
            "epoch": (EpochSeconds("repaired_at"), np.int64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "superseded": (EpochSeconds("superseded_at"), np.float64),
        },
    )


def _worked(doors: DoorRows, rows: Table) -> CableWorkRows:
    """What had happened, was entered and stood at the moment; nan compares as false."""
    door = doors.index_of(rows["door"])
    rows, door = rows[door >= 0], door[door >= 0]
    moment = doors.moment[door]
    late = (rows["entered"] >= moment) | (rows["superseded"] < moment)
    known = (rows["epoch"] < moment) & ~late
    rows, door = rows[known], door[known]
    return _work(door, doors.wall_days(door, rows["epoch"]), is_fitted=False)
