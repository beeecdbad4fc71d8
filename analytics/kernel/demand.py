"""Parts demand of the installed base: failures to expect from ages, usage and life."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gamma

from analytics.kernel.posterior import WeibullDraws
from analytics.kernel.renewal import RenewalTable, later_replacements, renewal_table

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

AGE_BINS, RATE_BINS, UNKNOWN_BINS = 196, 40, 14
START_POINTS = 10
# Worked out once: it takes longer than the rest of a forecast's step.
START_NODES, START_LENGTHS = np.polynomial.legendre.leggauss(START_POINTS)
TINY = 1e-300
# The spread of starting ages ends where 1 part in 1,000 is left.
LOG_SURVIVAL_LEFT_OUT = 6.9


@dataclass(frozen=True, eq=False)
class PositionCells:
    """Positions of like age and usage; see `bin_positions`.

    Mean age (c,), mean cycles per day (c,), and how many positions (c,) or, by group, (g, c).
    """

    age_cycles: FloatArray
    cycles_per_day: FloatArray
    positions: FloatArray


@dataclass(frozen=True, eq=False)
class UnknownAgeCells:
    """Positions whose part was there before the records; see `bin_unknown_ages`."""

    ceiling_cycles: FloatArray
    since_cycles: FloatArray
    cycles_per_day: FloatArray
    positions: FloatArray


@dataclass(frozen=True, eq=False)
class PossibleAges:
    """Ages a part may have now, (c, 11), cycles, and the weight of each, summing to 1 per row."""

    age_cycles: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class BaseDemand:
    """Mean and variance of the replacements by horizon; see `forecast_base_demand`."""

    horizon_days: FloatArray
    mean: FloatArray
    variance: FloatArray
    mean_by_draw: FloatArray
    within_by_draw: FloatArray


def bin_positions(
    age_cycles: ArrayLike,
    cycles_per_day: ArrayLike,
    group: ArrayLike | None = None,
    groups: int | None = None,
) -> PositionCells:
    """Gather positions of like age and usage so that 100,000 of them cost as few as some hundred.

    Parameters
    ----------
    age_cycles : array_like, shape (n,), cycles, >= 0
        Age of the part in each position.
    cycles_per_day : array_like, shape (n,), cycles per effective day, >= 0
        Expected usage of its door.
    group : array_like of int, shape (n,), in [0, groups), optional
        Depot (or the like) of each position, to forecast all of them in one pass.
    groups : int, optional
        Number of groups; the highest one present plus 1 if left out.

    Returns
    -------
    PositionCells
        At most 196 x 41 occupied cells with their mean age and usage; `positions` is (c,), or
        (groups, c) by group, and sums to n.

    Raises
    ------
    ValueError
        If lengths differ or a value is negative or not finite.

    Examples
    --------
    >>> bin_positions([100, 100, 90_000], [20, 20, 35]).positions.tolist()
    [2.0, 1.0]
    """
    columns = _columns({"age_cycles": age_cycles, "cycles_per_day": cycles_per_day})
    bins = [_even_bins(columns[0], AGE_BINS), _log_bins(columns[1], RATE_BINS)]
    return PositionCells(*_gather(columns, bins, _grouped(group, groups, columns[0])))


def bin_unknown_ages(
    ceiling_cycles: ArrayLike,
    since_cycles: ArrayLike,
    cycles_per_day: ArrayLike,
    group: ArrayLike | None = None,
    groups: int | None = None,
) -> UnknownAgeCells:
    """Gather positions whose part was already there when the record began, age unknown.

    Parameters
    ----------
    ceiling_cycles : array_like, shape (n,), cycles, >= 0
        Door cycles when the record began: the part can be no older than that then.
    since_cycles : array_like, shape (n,), cycles, >= 0
        Cycles it has run since without failing.
    cycles_per_day : array_like, shape (n,), cycles per effective day, >= 0
        Expected usage of the door.
    group, groups
        As in `bin_positions`.

    Returns
    -------
    UnknownAgeCells
        Occupied cells with their mean values and counts, (c,) or (groups, c).

    Raises
    ------
    ValueError
        If lengths differ or a value is negative or not finite.
    """
    columns = _columns(
        {
            "ceiling_cycles": ceiling_cycles,
            "since_cycles": since_cycles,
            "cycles_per_day": cycles_per_day,
        }
    )
    bins = [_even_bins(column, UNKNOWN_BINS) for column in columns[:2]]
    bins.append(_log_bins(columns[2], UNKNOWN_BINS))
    return UnknownAgeCells(*_gather(columns, bins, _grouped(group, groups, columns[0])))


def forecast_base_demand(
    draws: WeibullDraws,
    horizon_days: ArrayLike,
    known: PositionCells | None = None,
    unknown: UnknownAgeCells | None = None,
) -> BaseDemand:
    """Replacements the installed base is expected to need within each horizon.

    Parameters
    ----------
    draws : WeibullDraws
        Equally likely lives of the component, scale in cycles (`WeibullPosterior.draws`).
    horizon_days : array_like, shape (h,), effective days, >= 0
        Days of ordinary running ahead; season and days off are already in them.
    known : PositionCells, optional
        Positions whose part has a known age.
    unknown : UnknownAgeCells, optional
        Positions whose part was there before the records; by the same groups.

    Returns
    -------
    BaseDemand
        `mean` and `variance` (h,) of the number of replacements, (g, h) by group;
        `mean_by_draw` and `within_by_draw` with the draws first: mean and chance variance.

    Raises
    ------
    ValueError
        If a horizon is negative or not finite, or neither kind of position is given.

    Notes
    -----
    At one draw a position adds its expected replacements m to the mean and m - p^2 to the
    variance, p its chance of at least one failure. The variance over the draws is added: that
    is what not knowing the life exactly costs. A part of unknown age is averaged over the ages
    it may have had when the record began: a renewal at any earlier point, as likely as the part
    is to have lasted since, or the door's first part.

    Examples
    --------
    >>> cells = bin_positions([0.0] * 100, [40.0] * 100)
    >>> life = WeibullDraws(np.array([1.0]), np.array([40_000.0]))
    >>> forecast_base_demand(life, [100.0], cells).mean.round(1).tolist()
    [10.0]
    """
    horizons = np.atleast_1d(np.asarray(horizon_days, dtype=float))
    if not ((horizons >= 0) & np.isfinite(horizons)).all():
        raise ValueError(f"a horizon must be 0 or more days, got {horizons.min():g}")
    if known is None and unknown is None:
        raise ValueError("a forecast needs positions of known or of unknown age")
    means, within = [], []
    for shape, scale in zip(draws.shape.tolist(), draws.scale_cycles.tolist(), strict=True):
        table = renewal_table(shape)
        outlooks = []
        if known is not None:
            outlooks.append((known.positions, _outlook(known, table, scale, horizons)))
        if unknown is not None:
            outlooks.append((unknown.positions, _averaged(unknown, table, scale, horizons)))
        means.append(sum(count @ found.expected for count, found in outlooks))
        within.append(sum(count @ (found.expected - found.first**2) for count, found in outlooks))
    by_draw, chance = np.asarray(means), np.asarray(within)
    variance = chance.mean(axis=0) + by_draw.var(axis=0)
    return BaseDemand(horizons, by_draw.mean(axis=0), variance, by_draw, chance)


def possible_ages(cells: UnknownAgeCells, shape: float, scale_cycles: float) -> PossibleAges:
    """Weigh the ages that parts of unknown age may have now.

    Parameters
    ----------
    cells : UnknownAgeCells
        Positions with the ceiling of the age and the cycles run since, (c,).
    shape, scale_cycles : float, > 0
        Weibull life, scale in cycles.

    Returns
    -------
    PossibleAges
        Eleven ages per cell: ten spread over a start in (0, ceiling) and the ceiling itself,
        each with the cycles since added.

    Notes
    -----
    An age a0 at the start of the record has density R(a0 + since)/mean life, the age a0 =
    ceiling (never replaced) the mass R(ceiling + since); both are then scaled to sum to one.
    Ages that one new part in 1,000 reaches are left out of the spread.
    """
    oldest = scale_cycles * LOG_SURVIVAL_LEFT_OUT ** (1 / shape)
    highest = np.minimum(cells.ceiling_cycles, oldest)[:, None]
    starts = np.concatenate(
        [highest * (START_NODES + 1) / 2, cells.ceiling_cycles[:, None]], axis=1
    )
    ages = starts + cells.since_cycles[:, None]
    # Relative to the survival of the youngest, so that nothing underflows for very old parts.
    youngest = ages.min(axis=1, keepdims=True)
    alive = np.exp((youngest / scale_cycles) ** shape - (ages / scale_cycles) ** shape)
    spread = highest * START_LENGTHS / 2 / (scale_cycles * gamma(1 + 1 / shape))
    weight = alive * np.concatenate([spread, np.ones_like(highest)], axis=1)
    return PossibleAges(ages, weight / weight.sum(axis=1, keepdims=True))


@dataclass(frozen=True, eq=False)
class _Outlook:
    """Chance of a first failure and expected replacements per position, both (c, h)."""

    first: FloatArray
    expected: FloatArray


def _outlook(
    cells: PositionCells, table: RenewalTable, scale: float, horizons: FloatArray
) -> _Outlook:
    x = cells.age_cycles[:, None] / scale
    y = cells.cycles_per_day[:, None] * horizons / scale
    # exp(shape ln x) is several times faster than a power, and the same at both ends.
    spent, ends = (np.exp(table.shape * np.log(np.maximum(age, TINY))) for age in (x, x + y))
    first = -np.expm1(spent - ends)
    return _Outlook(first, first + later_replacements(table, x, y))


def _averaged(
    cells: UnknownAgeCells, table: RenewalTable, scale: float, horizons: FloatArray
) -> _Outlook:
    """Outlook of a position averaged over the ages its part may have."""
    ages = possible_ages(cells, table.shape, scale)
    rates = np.broadcast_to(cells.cycles_per_day[:, None], ages.age_cycles.shape)
    spread = PositionCells(ages.age_cycles.ravel(), rates.ravel(), ages.weight.ravel())
    each = _outlook(spread, table, scale, horizons)
    first, expected = (
        np.einsum("ck,ckh->ch", ages.weight, values.reshape(*ages.weight.shape, -1))
        for values in (each.first, each.expected)
    )
    return _Outlook(first, expected)


def _columns(columns: dict[str, ArrayLike]) -> list[FloatArray]:
    arrays = [np.atleast_1d(np.asarray(column, dtype=float)) for column in columns.values()]
    if len({array.shape for array in arrays}) > 1:
        shapes = {name: array.shape for name, array in zip(columns, arrays, strict=True)}
        raise ValueError(f"positions need columns of equal length, got {shapes}")
    for name, array in zip(columns, arrays, strict=True):
        if not ((array >= 0) & np.isfinite(array)).all():
            raise ValueError(f"{name} must be 0 or more and finite, got {array.min():g}")
    return arrays


def _even_bins(values: FloatArray, bins: int) -> IntArray:
    top = values.max(initial=0.0)
    if top == 0:
        return np.zeros(len(values), dtype=np.int64)
    return np.minimum((values * (bins / top)).astype(np.int64), bins - 1)


def _log_bins(values: FloatArray, bins: int) -> IntArray:
    """Bin 0 holds doors that do not run; the others share the range of ln(usage)."""
    found = np.zeros(len(values), dtype=np.int64)
    runs = values > 0
    if runs.any():
        logs = np.log(values[runs])
        width = max(np.ptp(logs), 1e-12) / bins
        found[runs] = 1 + np.minimum(((logs - logs.min()) / width).astype(np.int64), bins - 1)
    return found


def _grouped(group: ArrayLike | None, groups: int | None, like: FloatArray) -> IntArray | None:
    """Group of every position and, appended, the last group there is; None without groups."""
    if group is None:
        return None
    index = np.atleast_1d(np.asarray(group, dtype=np.int64))
    highest = int(index.max(initial=-1)) + 1 if groups is None else groups
    if index.shape != like.shape or ((index < 0) | (index >= highest)).any():
        raise ValueError(f"every position needs a group from 0 to {highest - 1}")
    return np.append(index, highest - 1)


def _gather(
    columns: list[FloatArray], bins: list[IntArray], group: IntArray | None
) -> list[FloatArray]:
    """Mean of every column in each occupied cell, and the number of rows there (by group)."""
    key = np.zeros(len(columns[0]), dtype=np.int64)
    for index in bins:
        key = key * (index.max(initial=0) + 1) + index
    occupied, cell = np.unique(key, return_inverse=True)
    counts = np.bincount(cell, minlength=len(occupied))
    means = [np.bincount(cell, weights=column) / counts for column in columns]
    if group is None:
        return [*means, counts.astype(float)]
    groups = int(group[-1]) + 1
    by_group = np.bincount(group[:-1] * len(occupied) + cell, minlength=groups * len(occupied))
    return [*means, by_group.reshape(groups, -1).astype(float)]
