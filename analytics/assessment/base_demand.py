"""Demand of the parts fitted: what fails, what is changed at a planned age, what goes along."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from analytics.assessment.demand_terms import (
    DAYS_OF_WEEK,
    DemandOverDays,
    MeanVariance,
)
from analytics.assessment.installed_base import NO_PART, Positions
from analytics.assessment.lives import ComponentLifeFound
from analytics.assessment.weekly_use import FlatUse, flat_use
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.demand import (
    BaseDemand,
    PositionCells,
    bin_positions,
    bin_unknown_ages,
    forecast_base_demand,
)
from analytics.kernel.demand_calibration import DemandCalibration, calibrate_demand
from analytics.kernel.planned_demand import forecast_planned_demand
from analytics.kernel.posterior import WeibullPosterior

LONGEST_DAYS = 730.0
# Wide enough for door, component and day to share one whole number.
_MOST_COMPONENTS, _MOST_DAYS = 10_000, 100_000
_KNOTS = np.array([0.0, 7.0, 21.0, 45.0, 90.0, 150.0, 240.0, 365.0, 540.0, LONGEST_DAYS])
_DAYS_AHEAD = np.arange(0.0, LONGEST_DAYS + 1, 5.0)
# A fleet changes a component by plan when it has done so often enough to be no accident
# (rule of this program).
PLANNED_ENOUGH = 10
PLANNED_SHARE = 0.2


@dataclass(frozen=True)
class BaseForecast:
    """Mean and variance of replacements at the knots, (groups, knots), and what goes along.

    The knots are days of ordinary running; `effective` (groups, days) are those within each of
    `_DAYS_AHEAD`, by the months that they fall in.
    """

    mean: Floats
    variance: Floats
    effective: Floats
    planned_at_cycles: float | None
    along: FlatUse

    def over_days(self, group: int) -> DemandOverDays:
        """Demand of one group as a function of days ahead."""
        fitted = _over_knots(self.mean[group], self.variance[group])
        along, effective = self.along.over_days(group), self.effective[group]

        def moments(days: Floats) -> MeanVariance:
            within = np.minimum(np.asarray(days, dtype=float), LONGEST_DAYS)
            mean, variance = fitted(np.interp(within, _DAYS_AHEAD, effective))
            more, spread = along(within)
            return mean + more, variance + spread

        return moments


def _over_knots(at_knots: Floats, spread_at_knots: Floats) -> DemandOverDays:
    """Mean and variance between the knots; beyond the last they stay as they are there."""
    mean = PchipInterpolator(_KNOTS, at_knots)
    variance = PchipInterpolator(_KNOTS, spread_at_knots)

    def moments(days: Floats) -> MeanVariance:
        run = np.minimum(np.asarray(days, dtype=float), LONGEST_DAYS)
        return np.maximum(mean(run), 0.0), np.maximum(variance(run), 0.0)

    return moments


@dataclass(frozen=True)
class _Served:
    """One component's positions: rows `own`, and the group of every position, -1 = none.

    `in_company` (fitments,): taken off sound beside one that failed.
    """

    component_id: int
    own: Ints
    group: Ints
    groups: int
    in_company: Flags


def forecast_base(
    fleet: Fleet,
    record: PartsRecord,
    positions: Positions,
    life: ComponentLifeFound,
    *,
    group: Ints,
    groups: int,
    weeks: int,
    in_company: Flags,
    factor: DemandCalibration | None,
) -> BaseForecast:
    """Forecast one component for all groups of positions; `group` (positions,), -1 = none.

    What is fitted fails by the life of its own revision. `factor`: how much faster its parts
    fail than their age says, None = not yet checked.
    """
    own = np.flatnonzero((positions.component_id == life.component_id) & (group >= 0))
    served = _Served(life.component_id, own, group, groups, in_company)
    planned_at = planned_age(fleet, life.component_id, in_company)
    found = _nothing(served)
    for rows, posterior in by_revision(positions, own, life):
        found = found.and_those(_known_ages(positions, served, rows, posterior, planned_at))
        found = found.and_those(_unknown_ages(positions, served, rows, posterior))
    found = _calibrated(found, factor)
    return BaseForecast(
        found.failing + found.planned,
        found.variance,
        positions.effective_days(own, group[own], groups, _DAYS_AHEAD),
        planned_at,
        _taken_along(fleet, record, positions, served, weeks),
    )


def by_revision(
    positions: Positions, own: Ints, life: ComponentLifeFound
) -> tuple[tuple[Ints, WeibullPosterior], ...]:
    """Rows of a component's positions by revision of what is fitted, with that revision's life."""
    revision = life.revision_of(positions.fitted_part_id[own])
    pairs = ((own[revision == k], each) for k, each in enumerate(life.by_revision))
    return tuple((rows, each) for rows, each in pairs if len(rows))


@dataclass(frozen=True)
class _Moments:
    """At the knots, (groups, knots): what fails and what is changed by plan, and the variance.

    `chance`: the variance of the failures by chance alone, were the life known exactly.
    """

    failing: Floats
    planned: Floats
    variance: Floats
    chance: Floats

    def and_those(self, others: _Moments) -> _Moments:
        """Both together."""
        return _Moments(
            self.failing + others.failing,
            self.planned + others.planned,
            self.variance + others.variance,
            self.chance + others.chance,
        )


def _calibrated(found: _Moments, factor: DemandCalibration | None) -> _Moments:
    """The failures times the factor learned from past weeks; planned changes stand."""
    if factor is None:
        return found
    demand = calibrate_demand(factor, found.failing, np.clip(found.chance, 0.0, None))
    # A cell whose parts are changed by plan scatters less than its failures alone would: what
    # is not changed today fails tomorrow. Its own variance is kept and only spread out.
    level = demand.mean**2 / factor.weight
    spread = np.where(
        found.planned > 0, factor.dispersion * found.variance + level, demand.variance
    )
    return _Moments(demand.mean, found.planned, spread, found.chance)


def _known_ages(
    positions: Positions,
    served: _Served,
    rows: Ints,
    posterior: WeibullPosterior,
    planned_at: float | None,
) -> _Moments:
    """Replacements where the age of what sits there is known."""
    rows = rows[~np.isnan(positions.age_cycles[rows])]
    if not len(rows):
        return _nothing(served)
    age, rate = positions.age_cycles[rows], positions.cycles_per_day[rows]
    cells = bin_positions(age, rate, served.group[rows], served.groups)
    return _of_cells(posterior, cells, planned_at)


def _of_cells(
    posterior: WeibullPosterior, cells: PositionCells, planned_at: float | None
) -> _Moments:
    if planned_at is None:
        return _of_failures(forecast_base_demand(posterior.draws(), _KNOTS, cells))
    plan = forecast_planned_demand(posterior.draws(), _KNOTS, cells, planned_at)
    return _Moments(plan.failures_mean, plan.planned_mean, plan.variance, plan.failures_mean)


def forecast_new_parts(
    life: ComponentLifeFound,
    part_id: int,
    *,
    pieces: float,
    cycles_per_day: float,
    planned_at: float | None,
    factor: DemandCalibration | None,
) -> DemandOverDays:
    """Demand of so many positions whose part is new today and then runs at one rate."""
    revision = int(life.revision_of(np.array([part_id]))[0])
    cells = PositionCells(np.zeros(1), np.array([cycles_per_day]), np.array([[pieces]]))
    found = _calibrated(_of_cells(life.by_revision[revision], cells, planned_at), factor)
    return _over_knots((found.failing + found.planned)[0], found.variance[0])


def _of_failures(base: BaseDemand) -> _Moments:
    chance = base.within_by_draw.mean(axis=0)
    return _Moments(base.mean, np.zeros_like(base.mean), base.variance, chance)


def _unknown_ages(
    positions: Positions, served: _Served, rows: Ints, posterior: WeibullPosterior
) -> _Moments:
    """Replacements where nobody knows how old what sits there is."""
    rows = rows[np.isnan(positions.age_cycles[rows])]
    if not len(rows):
        return _nothing(served)
    cells = bin_unknown_ages(
        positions.ceiling_cycles[rows],
        positions.since_cycles[rows],
        positions.cycles_per_day[rows],
        served.group[rows],
        served.groups,
    )
    return _of_failures(forecast_base_demand(posterior.draws(), _KNOTS, None, cells))


def _nothing(served: _Served) -> _Moments:
    return _Moments(*(np.zeros((served.groups, len(_KNOTS))) for _ in range(4)))


def planned_age(fleet: Fleet, component_id: int, in_company: Flags) -> float | None:
    """The age at which this fleet changes a component that still works; None if it does not."""
    parts = fleet.fitments
    own = parts.component_id == component_id
    by_plan = own & (parts.end == End.PREVENTIVE) & ~in_company
    ended = by_plan | (own & (parts.end == End.FAILED))
    age = (parts.removed_at_cycles - parts.fitted_at_cycles)[by_plan]
    age = age[age > 0]
    if len(age) < PLANNED_ENOUGH or by_plan.sum() < PLANNED_SHARE * ended.sum():
        return None
    return float(np.median(age))


def with_failed_neighbour(fleet: Fleet) -> Flags:
    """Parts taken off sound because their like on the same door failed that day, (fitments,).

    A pair is changed together, so these say nothing about the age at which one is changed.
    """
    parts = fleet.fitments
    dated = np.flatnonzero(~np.isnan(parts.removed_day))
    position = parts.door[dated] * _MOST_COMPONENTS + parts.component_id[dated] % _MOST_COMPONENTS
    key = position * _MOST_DAYS + parts.removed_day[dated].astype(np.int64)
    failed = np.unique(key[parts.end[dated] == End.FAILED])
    found = np.zeros(len(parts.door), dtype=bool)
    found[dated] = np.isin(key, failed)
    return found & (parts.end == End.PREVENTIVE)


def _taken_along(
    fleet: Fleet, record: PartsRecord, positions: Positions, served: _Served, weeks: int
) -> FlatUse:
    """Parts taken off for another reason: no age tells when, so their past use is carried on.

    Each is counted where the same part of the same door belongs now.
    """
    parts, own = fleet.fitments, served.own
    along = (parts.end == End.OTHER) | served.in_company
    rows = np.flatnonzero(along & (parts.component_id == served.component_id))
    newest = np.append(record.parts.newest, NO_PART)[record.parts.index_of(parts.part_id[rows])]
    now = zip(positions.door[own].tolist(), positions.part[own].tolist(), strict=True)
    place = dict(zip(now, served.group[own].tolist(), strict=True))
    taken = zip(parts.door[rows].tolist(), newest.tolist(), strict=True)
    group = np.array([place.get(each, -1) for each in taken], dtype=np.int64)
    ago = (fleet.doors.day[parts.door[rows]] - parts.removed_day[rows]) / DAYS_OF_WEEK
    return flat_use(
        group,
        np.nan_to_num(ago, nan=-1.0),
        np.ones(len(rows)),
        groups=served.groups,
        weeks=weeks,
    )
