"""Parts demand where a part is also replaced when it reaches a planned age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import map_coordinates

from analytics.kernel.demand import PositionCells
from analytics.kernel.posterior import WeibullDraws

FloatArray = NDArray[np.float64]

# The planned age is cut into 120 steps, and ages are tabulated at every third of them.
STEPS, AGE_EVERY = 120, 3
LONGEST_HORIZON = 40


@dataclass(frozen=True, eq=False)
class PlannedDemand:
    """Replacements by horizon; see `forecast_planned_demand` for every field."""

    horizon_days: FloatArray
    failures_mean: FloatArray
    planned_mean: FloatArray
    variance: FloatArray


@dataclass(frozen=True, eq=False)
class PlannedTable:
    """Expected replacements after the first by age and horizon, in steps of the planned age.

    `failures` and `planned` (ages, offsets): the second axis runs along age + horizon, so that
    one column holds the planned job of every age.
    """

    failures: FloatArray
    planned: FloatArray


def forecast_planned_demand(
    draws: WeibullDraws, horizon_days: ArrayLike, cells: PositionCells, planned_at_cycles: float
) -> PlannedDemand:
    """Replacements at failure and at a planned age that the installed base is expected to need.

    Parameters
    ----------
    draws : WeibullDraws
        Equally likely lives of the component, scale in cycles.
    horizon_days : array_like, shape (h,), effective days, >= 0
        Days of ordinary running ahead.
    cells : PositionCells
        Positions of known age; a part older than the planned age is due at once.
    planned_at_cycles : float, cycles, > 0
        Age at which a part that still works is replaced.

    Returns
    -------
    PlannedDemand
        `failures_mean` and `planned_mean`, expected replacements of each kind, and the
        `variance` of their sum, all (h,), or (g, h) for cells by group.

    Raises
    ------
    ValueError
        If the planned age is not above 0, a horizon is negative or not finite, or a door runs
        more than 40 planned ages within one.

    Notes
    -----
    After either replacement the age restarts. Both counts solve a renewal equation whose lives
    are cut off at the planned age; the variance is taken as in `demand.forecast_base_demand`.
    The planned job is taken as done when it falls due: late jobs move their demand to later.

    Examples
    --------
    >>> cells = PositionCells(np.array([9_000.0]), np.array([20.0]), np.array([50.0]))
    >>> life = WeibullDraws(np.array([3.0]), np.array([90_000.0]))
    >>> forecast_planned_demand(life, [60.0], cells, 10_000.0).planned_mean.round(1).tolist()
    [50.0]
    """
    horizons = np.atleast_1d(np.asarray(horizon_days, dtype=float))
    if not ((horizons >= 0) & np.isfinite(horizons)).all():
        raise ValueError(f"a horizon must be 0 or more days, got {horizons.min():g}")
    if not planned_at_cycles > 0:
        raise ValueError(f"a planned age must be above 0 cycles, got {planned_at_cycles:g}")
    age = np.minimum(cells.age_cycles / planned_at_cycles, 1.0)[:, None]
    further = cells.cycles_per_day[:, None] * horizons / planned_at_cycles
    longest = float(further.max(initial=0.0))
    if longest > LONGEST_HORIZON:
        raise ValueError(f"a door would run {longest:.0f} planned ages, at most 40 are forecast")
    failures, planned, within = [], [], []
    for shape, scale in zip(draws.shape.tolist(), draws.scale_cycles.tolist(), strict=True):
        table = planned_table(shape, scale / planned_at_cycles, longest)
        first = _first_replacement(age, further, shape, scale / planned_at_cycles)
        failed = first.failed + _read(table.failures, age, further)
        done = first.planned + _read(table.planned, age, further)
        failures.append(cells.positions @ failed)
        planned.append(cells.positions @ done)
        spread = failed + done - (first.failed + first.planned) ** 2
        within.append(cells.positions @ np.maximum(spread, 0))
    total = np.asarray(failures) + np.asarray(planned)
    return PlannedDemand(
        horizon_days=horizons,
        failures_mean=np.mean(failures, axis=0),
        planned_mean=np.mean(planned, axis=0),
        variance=np.mean(within, axis=0) + total.var(axis=0),
    )


def planned_table(shape: float, scale: float, longest: float) -> PlannedTable:
    """Tabulate both kinds of replacement after the first for every age and horizon.

    Parameters
    ----------
    shape : float, > 0
        Weibull shape.
    scale : float, > 0
        Weibull scale in planned ages.
    longest : float, >= 0
        Longest horizon in planned ages.

    Returns
    -------
    PlannedTable
        41 ages from 0 to the planned age; 120 columns to the planned age and on from there.
    """
    steps = int(np.ceil(longest * STEPS)) + STEPS + 2
    hazard = (np.arange(STEPS + 1) / STEPS / scale) ** shape
    fails = np.diff(-np.expm1(-hazard))
    survives = float(np.exp(-hazard[-1]))
    failures = _renewed(fails, survives, steps, per_failure=1.0, per_plan=0.0)
    planned = _renewed(fails, survives, steps, per_failure=0.0, per_plan=1.0)
    ages = range(0, STEPS + 1, AGE_EVERY)
    return PlannedTable(
        np.stack([_aged(failures, hazard, age) for age in ages]),
        np.stack([_aged(planned, hazard, age) for age in ages]),
    )


def _renewed(
    fails: FloatArray, survives: float, steps: int, *, per_failure: float, per_plan: float
) -> FloatArray:
    """Expected count from new at every step; a failure lies in the middle of its step."""
    count = np.zeros(steps)
    for i in range(1, steps):
        reach = min(i, STEPS)
        before = count[i - reach : i][::-1]
        middle = (before + np.concatenate([[0.0], before[:-1]])) / 2
        total = fails[:reach] @ (per_failure + middle)
        if i >= STEPS:
            total += survives * (per_plan + count[i - STEPS])
        # The middle of the first step lies half towards the count that is being solved for.
        count[i] = total / (1 - fails[0] / 2)
    return count


def _aged(count: FloatArray, hazard: FloatArray, age: int) -> FloatArray:
    """Expected count after the first replacement of a part of a given age."""
    left = STEPS - age
    fails = np.diff(-np.expm1(hazard[age] - hazard[age:]))
    survives = float(np.exp(hazard[age] - hazard[-1]))
    horizon = len(count) - STEPS
    found = np.zeros(horizon + left)
    if left:
        middle = (count[:-1] + count[1:]) / 2
        found[1:] = np.convolve(fails, middle)[: len(found) - 1]
    found[left:] += survives * count[:horizon]
    return np.concatenate([np.zeros(age), found])


def _read(values: FloatArray, age: FloatArray, further: FloatArray) -> FloatArray:
    row = np.broadcast_to(age, further.shape) * (STEPS / AGE_EVERY)
    column = (further + age) * STEPS
    found = map_coordinates(values, [row.ravel(), column.ravel()], order=1, mode="nearest")
    return found.reshape(further.shape)


@dataclass(frozen=True, eq=False)
class _First:
    """Chance that the first replacement is a failure, and that it is the planned one."""

    failed: FloatArray
    planned: FloatArray


def _first_replacement(age: FloatArray, further: FloatArray, shape: float, scale: float) -> _First:
    end = np.minimum(age + further, 1.0)
    failed = -np.expm1((age / scale) ** shape - (end / scale) ** shape)
    # A hair early: a job that falls due exactly at the horizon falls within it.
    return _First(failed, np.where(end >= 1 - 1e-12, 1 - failed, 0.0))
