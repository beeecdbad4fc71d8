"""Everything that the reliability page says of some doors: groups, modes, trend, doors over share.

A page works it out while somebody waits, or reads what a run worked out before by the same way.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from analytics.assessment.doors_over_share import DoorsOverShare, find_over_share
from analytics.assessment.group_sums import COMPARED_BY, GroupSum, sum_groups
from analytics.assessment.groups import Group, Windows, histories_of
from analytics.assessment.power_law import PowerLawFit, check_power_law
from analytics.datasets.columns import Ints
from analytics.datasets.reliability import ReliabilityRows
from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.recurrence import (
    MeanCumulativeFunction,
    RepairHistories,
    mean_cumulative_function,
)
from analytics.kernel.trend import Trend, assess_trend

CONFIDENCE = 0.9
MOST_POINTS, MOST_ROWS = 300, 40
# Beyond the age that so many doors have reached the mean is that of a few odd ones.
DOORS_TO_DRAW = 5
# Ranking every door costs the same whatever the component; for so many it is done once, over all.
DOORS_RANKED_BY_COMPONENT = 5_000


@dataclass(frozen=True)
class ModeSum:
    """One way of failing: failures, and hours off the road where they were noted."""

    code: str
    failures: int
    hours: float


@dataclass(frozen=True)
class ReliabilityFigures:
    """Figures of some doors and the failures that count; None where there is nothing to give."""

    doors: int
    cycles: float
    failures: int
    groups: dict[str, tuple[GroupSum, ...]]
    modes: tuple[ModeSum, ...]
    hours_noted: int
    trend: Trend
    fit: PowerLawFit
    curve: MeanCumulativeFunction | None
    over_share: DoorsOverShare | None


def reliability_of(
    rows: ReliabilityRows, component_id: int | None, by: Collection[str] = COMPARED_BY
) -> ReliabilityFigures:
    """Figures of the doors; `component_id` None counts every failure. `by`: groupings wanted."""
    doors, counted = rows.doors, rows.counted(component_id)
    windows = Windows(
        doors.start_cycles,
        doors.end_cycles,
        rows.failures.door,
        rows.failures.at_cycles,
        rows.failures.component_id,
    )
    histories = histories_of(windows, Group(None, np.arange(len(doors)), counted))
    hours = rows.failures.off_road_hours[counted]
    ranked = component_id is None or len(doors) <= DOORS_RANKED_BY_COMPONENT
    return ReliabilityFigures(
        doors=len(doors),
        cycles=float((doors.end_cycles - doors.start_cycles).sum()),
        failures=len(counted),
        groups={each: sum_groups(rows, counted, each) for each in by},
        modes=_modes(rows, counted),
        hours_noted=int(np.isfinite(hours).sum()),
        trend=assess_trend(histories),
        fit=check_power_law(histories),
        curve=_curve(histories),
        over_share=find_over_share(rows, windows, counted) if ranked and len(counted) else None,
    )


def _modes(rows: ReliabilityRows, counted: Ints) -> tuple[ModeSum, ...]:
    """Each way of failing that was noted, by code."""
    codes, place = rows.modes
    own, hours = place[counted], np.nan_to_num(rows.failures.off_road_hours[counted])
    failures = np.bincount(own, minlength=len(codes))
    lost = np.bincount(own, weights=hours, minlength=len(codes))
    return tuple(
        ModeSum(code, int(failures[k]), float(lost[k]))
        for k, code in enumerate(codes)
        if code and failures[k]
    )


def _curve(histories: RepairHistories) -> MeanCumulativeFunction | None:
    """The mean cumulative function, thinned to what is drawn and listed."""
    try:
        curve = mean_cumulative_function(histories, CONFIDENCE)
    except NotEstimableError:
        return None
    length = len(curve.at_cycles)
    kept = np.union1d(_spread(drawn_points(curve), MOST_POINTS), _spread(length, MOST_ROWS))
    return MeanCumulativeFunction(
        curve.at_cycles[kept],
        curve.at_risk[kept],
        curve.failures[kept],
        curve.mcf[kept],
        curve.standard_error[kept],
        curve.lower[kept],
        curve.upper[kept],
        curve.confidence,
        curve.reason,
    )


def drawn_points(curve: MeanCumulativeFunction) -> int:
    """How many points are drawn: up to the last age that enough doors have reached."""
    enough = np.flatnonzero(curve.at_risk >= DOORS_TO_DRAW)
    return int(enough[-1]) + 1 if len(enough) else len(curve.at_cycles)


def _spread(length: int, most: int) -> Ints:
    """Indices spread evenly over a length, both ends kept."""
    return np.unique(np.linspace(0, length - 1, min(length, most)).round().astype(np.int64))
