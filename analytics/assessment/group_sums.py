"""Cycles and failures of groups of doors or of components, with the latest failures of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.assessment.groups import COMPONENT, DEPOT, DOOR_MODEL, ROUTE_KIND
from analytics.assessment.periods import PERIOD_DAYS
from analytics.assessment.rises import Watched, watch
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.period_use import PeriodUseRows
from analytics.datasets.reliability import ReliabilityRows

LATEST_SHOWN = 10
COMPARED_BY = (COMPONENT, DOOR_MODEL, DEPOT, ROUTE_KIND)


@dataclass(frozen=True)
class LatestFailure:
    """One failure: day since 1970, door, its cycles, component id (-1 = not noted), mode."""

    day: int
    door: str
    at_cycles: float
    component_id: int
    mode: str


@dataclass(frozen=True)
class GroupSum:
    """A group by its name (a component by its id): doors, cycles, failures, and its watch."""

    key: str | int
    doors: int
    cycles: float
    failures: int
    latest: tuple[LatestFailure, ...]
    watched: Watched


def sum_groups(rows: ReliabilityRows, counted: Ints, by: str) -> tuple[GroupSum, ...]:
    """Every group of one grouping; `counted` are the rows of the failures that count."""
    if by == COMPONENT:
        return _by_component(rows, counted)
    grouped = {DOOR_MODEL: rows.by_model, DEPOT: rows.by_depot, ROUTE_KIND: rows.by_route}[by]
    size = len(grouped.names)
    groups = _Groups(
        keys=grouped.names,
        doors=np.bincount(grouped.door, minlength=size),
        cycles=np.bincount(grouped.door, rows.window_cycles, minlength=size).astype(float),
        used=_used(rows.uses, grouped.use, size),
    )
    return _sums(rows, groups, counted, grouped.door[rows.failures.door[counted]])


def _by_component(rows: ReliabilityRows, counted: Ints) -> tuple[GroupSum, ...]:
    """Every component that failed, each over the cycles of all doors."""
    known, own = np.unique(rows.failures.component_id[counted], return_inverse=True)
    size, uses = len(known), rows.uses
    groups = _Groups(
        keys=known.tolist(),
        doors=np.full(size, len(rows.doors)),
        cycles=np.full(size, rows.window_cycles.sum()),
        used=np.broadcast_to(uses.cycles.sum(axis=0), (size, uses.periods)),
    )
    return _sums(rows, groups, counted, own.ravel())


@dataclass(frozen=True)
class _Groups:
    """Names of groups, their doors and cycles (g,), and cycles by period (g, p)."""

    keys: Sequence[str | int]
    doors: Ints
    cycles: Floats
    used: Floats


def _sums(rows: ReliabilityRows, groups: _Groups, counted: Ints, own: Ints) -> tuple[GroupSum, ...]:
    """`own`: the group of each failure that counts."""
    size, uses = len(groups.keys), rows.uses
    by_period = _failures_by_period(rows, counted, own, size)
    order = np.lexsort((-rows.failures.day[counted], own))
    cuts = np.searchsorted(own[order], np.arange(size + 1))
    return tuple(
        GroupSum(
            key=key,
            doors=int(groups.doors[k]),
            cycles=float(groups.cycles[k]),
            failures=int(cuts[k + 1] - cuts[k]),
            latest=_latest(rows, counted[order[cuts[k] : cuts[k + 1]][:LATEST_SHOWN]]),
            watched=watch(by_period[k], groups.used[k], uses.first_day),
        )
        for k, key in enumerate(groups.keys)
    )


def _used(uses: PeriodUseRows, own: Ints, groups: int) -> Floats:
    """Cycles by group and period, (groups, p); a use of no group counts for none."""
    found, known = np.zeros((groups, uses.periods)), np.flatnonzero(own >= 0)
    np.add.at(found, own[known], uses.cycles[known])
    return found


def _failures_by_period(rows: ReliabilityRows, counted: Ints, own: Ints, groups: int) -> Floats:
    periods = rows.uses.periods
    ago = (rows.failures.day[counted] - rows.uses.first_day) / PERIOD_DAYS
    period = np.floor(ago).astype(np.int64)
    inside = np.flatnonzero((period >= 0) & (period < periods))
    counts = np.bincount(own[inside] * periods + period[inside], minlength=groups * periods)
    return counts.astype(float).reshape(groups, periods)


def _latest(rows: ReliabilityRows, chosen: Ints) -> tuple[LatestFailure, ...]:
    failures = rows.failures
    return tuple(
        LatestFailure(
            day=int(failures.day[row]),
            door=rows.doors.serials[int(failures.door[row])],
            at_cycles=float(failures.at_cycles[row]),
            component_id=int(failures.component_id[row]),
            mode=failures.mode[row],
        )
        for row in chosen.tolist()
    )
