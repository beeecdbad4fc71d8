"""When parts that were fitted together wear out together: replacements ahead, by four weeks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.base_demand import PLANNED_ENOUGH, PLANNED_SHARE
from analytics.assessment.work_base import WorkBase
from analytics.datasets.columns import Flags, Floats, Ints, Table
from analytics.datasets.fitments import End
from analytics.kernel.demand import bin_positions, bin_unknown_ages, forecast_base_demand
from analytics.kernel.planned_demand import forecast_planned_demand
from analytics.kernel.posterior import WeibullDraws
from analytics.kernel.usage_paths import WEEK_DAYS

PERIODS, PERIOD_DAYS = 26, 28.0
# The likely lives come spread evenly by shape: every third tells the same, in a third of the time.
DRAW_EVERY = 3
_SPREAD = 1.2816  # standard deviations on either side of 8 times in 10


@dataclass(frozen=True)
class WaveFound:
    """Replacements by period: those that fail, those changed by plan, and the range of both.

    `fitted`: parts on doors in service; `planned_at_cycles`: None where none are changed by plan.
    """

    fitted: float
    planned_at_cycles: float | None
    failing: Floats
    planned: Floats
    lower: Floats
    upper: Floats
    unknown_share: float


def assess_wave(base: WorkBase, stays: Table, draws: WeibullDraws, usage: float) -> WaveFound:
    """What the positions of one component will need; `stays` holds that component alone."""
    door = base.doors.index_of(stays["door"])
    row = np.full(len(base.doors), -1)
    row[base.rows] = np.arange(len(base.rows))
    here = (stays["end"] == End.FITTED) & (row[door] >= 0)
    place = row[door[here]]
    now = base.paths[:, place, 0].mean(axis=0)
    weeks = base.paths.shape[2] - 1
    ran = (base.paths[:, place, -1] - base.paths[:, place, 0]).mean(axis=0)
    fitted = _Fitted(
        age_cycles=np.maximum(now - stays["fitted_at"][here], 0.0),
        now_cycles=now,
        opening_cycles=base.doors.opening_cycles[base.rows][place],
        cycles_per_day=usage * ran / (WEEK_DAYS * weeks),
    )
    planned_at = planned_age(stays)
    draws = WeibullDraws(draws.shape[::DRAW_EVERY], draws.scale_cycles[::DRAW_EVERY])
    found = _known(fitted, draws, planned_at).and_those(_unknown(fitted, draws))
    scale = base.doors_in_sight / max(len(base.doors), 1)
    return _wave(found, scale=scale, fitted=fitted, planned_at=planned_at)


@dataclass(frozen=True)
class _Fitted:
    """Parts on doors in service: age (nan unknown), and those of its door."""

    age_cycles: Floats
    now_cycles: Floats
    opening_cycles: Floats
    cycles_per_day: Floats

    @property
    def is_known(self) -> Flags:
        """Of which parts the age is known."""
        return ~np.isnan(self.age_cycles)


@dataclass(frozen=True)
class _Sums:
    """Replacements within each horizon, failing and by plan, and the variance of both."""

    failing: Floats
    planned: Floats
    variance: Floats

    def and_those(self, other: _Sums) -> _Sums:
        """Both together."""
        return _Sums(
            self.failing + other.failing,
            self.planned + other.planned,
            self.variance + other.variance,
        )


_HORIZONS = PERIOD_DAYS * np.arange(PERIODS + 1)
_NOTHING = _Sums(*(np.zeros(PERIODS + 1) for _ in range(3)))


def _known(fitted: _Fitted, draws: WeibullDraws, planned_at: float | None) -> _Sums:
    own = fitted.is_known
    if not own.any():
        return _NOTHING
    cells = bin_positions(fitted.age_cycles[own], fitted.cycles_per_day[own])
    if planned_at is None:
        demand = forecast_base_demand(draws, _HORIZONS, cells)
        return _Sums(demand.mean, np.zeros(PERIODS + 1), demand.variance)
    plan = forecast_planned_demand(draws, _HORIZONS, cells, planned_at)
    return _Sums(plan.failures_mean, plan.planned_mean, plan.variance)


def _unknown(fitted: _Fitted, draws: WeibullDraws) -> _Sums:
    own = ~fitted.is_known
    if not own.any():
        return _NOTHING
    opening = fitted.opening_cycles[own]
    since = np.maximum(fitted.now_cycles[own] - opening, 0.0)
    cells = bin_unknown_ages(opening, since, fitted.cycles_per_day[own])
    demand = forecast_base_demand(draws, _HORIZONS, None, cells)
    return _Sums(demand.mean, np.zeros(PERIODS + 1), demand.variance)


def _wave(sums: _Sums, *, scale: float, fitted: _Fitted, planned_at: float | None) -> WaveFound:
    """Sums up to each horizon as sums of each period.

    A period's variance is its count's own, and its share of what is not known of the life.
    """
    failing, planned = (
        scale * np.maximum(np.diff(each), 0.0) for each in (sums.failing, sums.planned)
    )
    both, whole = failing + planned, float(sums.failing[-1] + sums.planned[-1])
    relative = np.sqrt(max(float(sums.variance[-1]) - whole, 0.0)) / max(whole, 1e-9)
    spread = np.sqrt(both * scale + (relative * both) ** 2)
    known = fitted.is_known
    return WaveFound(
        fitted=scale * len(known),
        planned_at_cycles=planned_at,
        failing=failing,
        planned=planned,
        lower=np.maximum(both - _SPREAD * spread, 0.0),
        upper=both + _SPREAD * spread,
        unknown_share=float((~known).mean()) if len(known) else 0.0,
    )


def planned_age(stays: Table) -> float | None:
    """The age at which this component is changed while it still works; None if it is not."""
    by_plan = (stays["end"] == End.PREVENTIVE) & ~_beside_a_failure(stays)
    ended = by_plan | (stays["end"] == End.FAILED)
    age = (stays["removed_at"] - stays["fitted_at"])[by_plan]
    age = age[age > 0]
    if len(age) < PLANNED_ENOUGH or by_plan.sum() < PLANNED_SHARE * ended.sum():
        return None
    return float(np.median(age))


def _beside_a_failure(stays: Table) -> Flags:
    """Stays that ended with that of another part of the door which failed on that day."""
    key: Ints = stays["door"] * 100_000 + np.nan_to_num(stays["removed_day"]).astype(np.int64)
    return np.isin(key, key[stays["end"] == End.FAILED])
