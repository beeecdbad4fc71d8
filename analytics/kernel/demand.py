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
TINY = 1e-300
# The spread of starting ages ends where 1 part in 1,000 is left.
LOG_SURVIVAL_LEFT_OUT = 6.9


@dataclass(frozen=True, eq=False)
class PositionCells:
    """Positions of like age and usage: mean age (c,), mean cycles per day (c,), how many (c,)."""

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
class BaseDemand:
    """Mean and variance of the replacements by horizon; see `forecast_base_demand`."""

    horizon_days: FloatArray
    mean: FloatArray
    variance: FloatArray
    mean_by_draw: FloatArray
    within_by_draw: FloatArray
    positions: float


def bin_positions(age_cycles: ArrayLike, cycles_per_day: ArrayLike) -> PositionCells:
    """Gather positions of like age and usage so that 100,000 of them cost as few as some hundred.

    Parameters
    ----------
    age_cycles : array_like, shape (n,), cycles, >= 0
        Age of the part in each position.
    cycles_per_day : array_like, shape (n,), cycles per effective day, >= 0
        Expected usage of its door.

    Returns
    -------
    PositionCells
        At most 196 x 41 occupied cells, each with its own mean age and usage; the counts sum
        to n.

    Raises
    ------
    ValueError
        If lengths differ or a value is negative or not finite.

    Examples
    --------
    >>> bin_positions([100, 100, 90_000], [20, 20, 35]).positions.tolist()
    [2.0, 1.0]
    """
    columns = _columns(age_cycles=age_cycles, cycles_per_day=cycles_per_day)
    cells = _gather(columns, [_even_bins(columns[0], AGE_BINS), _log_bins(columns[1], RATE_BINS)])
    return PositionCells(*cells)


def bin_unknown_ages(
    ceiling_cycles: ArrayLike, since_cycles: ArrayLike, cycles_per_day: ArrayLike
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

    Returns
    -------
    UnknownAgeCells
        Occupied cells with their mean values and counts.

    Raises
    ------
    ValueError
        If lengths differ or a value is negative or not finite.
    """
    columns = _columns(
        ceiling_cycles=ceiling_cycles, since_cycles=since_cycles, cycles_per_day=cycles_per_day
    )
    bins = [_even_bins(column, UNKNOWN_BINS) for column in columns[:2]]
    return UnknownAgeCells(*_gather(columns, [*bins, _log_bins(columns[2], UNKNOWN_BINS)]))


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
        Positions whose part was there before the records.

    Returns
    -------
    BaseDemand
        `mean` and `variance` (h,) of the number of replacements; `mean_by_draw` and
        `within_by_draw` (d, h): mean and chance variance at each draw; `positions` counted.

    Raises
    ------
    ValueError
        If a horizon is negative or not finite.

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
    means = np.zeros((len(draws.shape), len(horizons)))
    within = np.zeros_like(means)
    for row, (shape, scale) in enumerate(zip(draws.shape, draws.scale_cycles, strict=True)):
        table = renewal_table(float(shape))
        if known is not None:
            found = _outlook(known, table, scale, horizons)
            means[row] += known.positions @ found.expected
            within[row] += known.positions @ (found.expected - found.first**2)
        if unknown is not None:
            spread = possible_starts(unknown, float(shape), scale)
            found = _outlook(spread, table, scale, horizons)
            # One position of unknown age has one chance of failing: average it, then square.
            chance = _joined(spread.positions, found.first, unknown.positions)
            means[row] += spread.positions @ found.expected
            within[row] += spread.positions @ found.expected - unknown.positions @ chance**2
    positions = sum(float(cells.positions.sum()) for cells in (known, unknown) if cells is not None)
    variance = within.mean(axis=0) + means.var(axis=0)
    return BaseDemand(horizons, means.mean(axis=0), variance, means, within, positions)


def possible_starts(cells: UnknownAgeCells, shape: float, scale_cycles: float) -> PositionCells:
    """Spread positions of unknown age over the ages their part may have now.

    Parameters
    ----------
    cells : UnknownAgeCells
        Positions with the ceiling of the age and the cycles run since, (c,).
    shape, scale_cycles : float, > 0
        Weibull life, scale in cycles.

    Returns
    -------
    PositionCells
        11 cells per input cell: ten ages spread over (0, ceiling) and the ceiling itself, with
        fractional counts that sum to the input's; ages are those of today.

    Notes
    -----
    An age a0 at the start of the record has density R(a0 + since)/mean life, the age a0 =
    ceiling (never replaced) the mass R(ceiling + since); both are then scaled to sum to one.
    Ages that one new part in 1,000 reaches are left out of the spread.
    """
    nodes, lengths = np.polynomial.legendre.leggauss(START_POINTS)
    oldest = scale_cycles * LOG_SURVIVAL_LEFT_OUT ** (1 / shape)
    highest = np.minimum(cells.ceiling_cycles, oldest)[:, None]
    starts = np.concatenate([highest * (nodes + 1) / 2, cells.ceiling_cycles[:, None]], axis=1)
    ages = starts + cells.since_cycles[:, None]
    # Relative to the survival since the start, so that nothing underflows for very old parts.
    youngest = ages.min(axis=1, keepdims=True)
    alive = np.exp((youngest / scale_cycles) ** shape - (ages / scale_cycles) ** shape)
    spread = highest * lengths / 2 / (scale_cycles * gamma(1 + 1 / shape))
    weights = alive * np.concatenate([spread, np.ones_like(highest)], axis=1)
    weights *= cells.positions[:, None] / weights.sum(axis=1, keepdims=True)
    rates = np.broadcast_to(cells.cycles_per_day[:, None], ages.shape)
    return PositionCells(ages.ravel(), rates.ravel(), weights.ravel())


@dataclass(frozen=True, eq=False)
class _Outlook:
    """Chance of a first failure and expected replacements, both (cells, horizons)."""

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


def _joined(weights: FloatArray, chance: FloatArray, positions: FloatArray) -> FloatArray:
    """Chance per position, averaged over its possible ages."""
    by_cell = (weights[:, None] * chance).reshape(len(positions), -1, chance.shape[1])
    return by_cell.sum(axis=1) / positions[:, None]


def _columns(**columns: ArrayLike) -> list[FloatArray]:
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


def _gather(columns: list[FloatArray], bins: list[IntArray]) -> list[FloatArray]:
    """Mean of every column in each occupied cell, and the number of rows there."""
    key = np.zeros(len(columns[0]), dtype=np.int64)
    for index in bins:
        key = key * (index.max(initial=0) + 1) + index
    counts = np.bincount(key)
    occupied = counts > 0
    means = [np.bincount(key, weights=column)[occupied] / counts[occupied] for column in columns]
    return [*means, counts[occupied].astype(float)]
