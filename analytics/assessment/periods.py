"""Cycles run in each four weeks, by group of doors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.usage import UsageFound
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import cycles_at

PERIOD_DAYS = 28.0
# Two years to learn from, and one to watch.
MOST_PERIODS = 39
_WEEK = 7.0
# The days since 1970 began on a Thursday: the first Monday is day 4.
_FIRST_MONDAY = 4.0


@dataclass(frozen=True)
class GroupUse:
    """Groups of doors: depot row (-1 = none), model row, route row (-1 = none), cycles (g, p)."""

    first_day: float
    depot: Ints
    model: Ints
    route: Ints
    cycles: Floats


def use_by_period(fleet: Fleet, found: UsageFound) -> GroupUse:
    """Cycles of each depot, model and route in the last periods that have ended everywhere."""
    doors = fleet.doors
    edges = period_edges(float(doors.day.min()) if len(doors) else 0.0)
    groups, own = np.unique(
        np.stack((doors.depot, doors.model, doors.route), axis=1), axis=0, return_inverse=True
    )
    own = own.ravel()
    reached = np.stack(
        [
            np.bincount(own, weights=_carried_to(fleet, found, edge), minlength=len(groups))
            for edge in edges.tolist()
        ],
        axis=1,
    )
    cycles = np.maximum(np.diff(reached, axis=1), 0.0)
    return GroupUse(float(edges[0]), groups[:, 0], groups[:, 1], groups[:, 2], cycles)


def period_edges(until_day: float) -> Floats:
    """Where periods begin and end, the last at the last Monday that has come: whole weeks each."""
    last = np.floor((until_day - _FIRST_MONDAY) / _WEEK) * _WEEK + _FIRST_MONDAY
    return last - PERIOD_DAYS * np.arange(MOST_PERIODS, -1.0, -1.0)


def _carried_to(fleet: Fleet, found: UsageFound, day: float) -> Floats:
    """Lifetime cycles of every door on a day: read, between readings, or carried forward since."""
    doors, series, now = fleet.doors, found.series, found.usage.cycles_now
    every = np.arange(len(doors))
    read = np.nan_to_num(cycles_at(series, every, np.full(len(doors), day)).cycles)
    begin, end = series.offsets[:-1], series.offsets[1:]
    rows = np.flatnonzero((end > begin) & doors.in_service & np.isfinite(now))
    last_day, last = series.day[end[rows] - 1], series.cycles[end[rows] - 1]
    ahead = np.clip(day - last_day, 0.0, None)
    left = np.maximum(doors.day[rows] - last_day, 1e-9)
    read[rows] += np.maximum(now[rows] - last, 0.0) * np.minimum(ahead / left, 1.0)
    return read
