"""Weeks in which one outside cause took many parts at once, kept apart from wear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import pdtr

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

FEWEST_IN_BATCH, RARE = 3, 2e-4
ROUNDS = 3
# Ordinary weeks are counted half a year to either side: parts that wear fail more often as years
# go by, and a busy late week is no batch.
WEEKS_TO_EITHER_SIDE = 26
HALF_WEEK_DAYS = 3.5


@dataclass(frozen=True, eq=False)
class ShockBatches:
    """Batches found: `is_batch` (depots, weeks), `sizes` (b,), pieces, over `depot_weeks`."""

    is_batch: BoolArray
    sizes: IntArray
    depot_weeks: int


@dataclass(frozen=True, eq=False)
class BatchDemand:
    """Mean and variance of the pieces that batches take, of the shape of the weeks asked for."""

    mean: FloatArray
    variance: FloatArray


@dataclass(frozen=True, eq=False)
class BatchedRows:
    """Which replacements (k,) came in batches; `sizes` (b,) of them, over `depot_weeks`."""

    in_batch: BoolArray
    sizes: IntArray
    depot_weeks: int


def find_batches(replacements: ArrayLike) -> ShockBatches:
    """Find the depot-weeks whose replacements are too many for chance.

    Parameters
    ----------
    replacements : array_like of int, shape (d, w), pieces, >= 0
        Replacements of one component by depot and week.

    Returns
    -------
    ShockBatches
        The lives that ended in a batch belong to the fit as suspended, not as failures.

    Raises
    ------
    ValueError
        If the counts are not two-dimensional, negative or not whole.

    Notes
    -----
    A batch holds at least 3 and more than the number that a Poisson count with the depot's mean
    exceeds once in 5,000 weeks; the mean is that of the 26 weeks to either side, leaves the
    batches out and is settled in three rounds.

    Examples
    --------
    >>> find_batches([[0, 1, 0, 9, 0, 1, 0, 0]]).sizes.tolist()
    [9]
    """
    counts = np.asarray(replacements)
    if counts.ndim != 2 or not ((counts >= 0) & (counts == np.floor(counts))).all():
        raise ValueError("replacements need whole numbers, 0 or more, by depot and week")
    batch = np.zeros(counts.shape, dtype=bool)
    for _ in range(ROUNDS):
        ordinary = np.maximum(_around(~batch), 1)
        mean = _around(np.where(batch, 0, counts)) / ordinary
        # As likely as RARE or less: at least so many in an ordinary week of that depot.
        tail = 1 - pdtr(np.maximum(counts - 1, 0), mean)
        batch = (counts >= FEWEST_IN_BATCH) & (tail <= RARE)
    return ShockBatches(batch, counts[batch].astype(np.int64), int(counts.size))


def batches_among(depot: ArrayLike, day: ArrayLike, *, depots: int, weeks: int) -> BatchedRows:
    """Find the replacements that came in batches, whichever day of the week a batch began.

    Parameters
    ----------
    depot : array_like of int, shape (k,), in [0, depots)
        Depot of each replacement.
    day : array_like, shape (k,), days, in [0, 7 weeks)
        Days since the first week began.
    depots, weeks : int, >= 1
        Depots and weeks looked at.

    Returns
    -------
    BatchedRows
        Which replacements belong to a batch, the size of every batch, and the depot-weeks.

    Raises
    ------
    ValueError
        If lengths differ, or a depot or a day lies outside.

    Notes
    -----
    `find_batches` on weeks that begin on the first day and on such that begin half a week later,
    so that at least three quarters of a batch of seven days fall into one of them. Of weeks that
    overlap the fuller one is taken.
    """
    at, when = np.atleast_1d(np.asarray(depot, np.int64)), np.atleast_1d(np.asarray(day, float))
    if at.shape != when.shape:
        raise ValueError(f"{at.shape} depots do not match {when.shape} days")
    if ((at < 0) | (at >= depots)).any() or not ((when >= 0) & (when < 7 * weeks)).all():
        raise ValueError(f"depots must lie in 0..{depots - 1} and days in 0..{7 * weeks}")
    taken = np.zeros(len(at), dtype=bool)
    sizes = []
    for rows in _full_weeks(at, when, depots=depots, weeks=weeks):
        free = rows[~taken[rows]]
        if len(free) >= FEWEST_IN_BATCH:
            sizes.append(len(free))
            taken[free] = True
    return BatchedRows(taken, np.array(sizes, dtype=np.int64), depots * weeks)


def _full_weeks(depot: IntArray, day: FloatArray, *, depots: int, weeks: int) -> list[IntArray]:
    """Rows of each depot-week that is a batch on either grid of weeks, the fullest first."""
    found = []
    for shift in (0.0, HALF_WEEK_DAYS):
        week = np.floor((day + shift) / 7).astype(np.int64)
        counts = np.zeros((depots, weeks + 1), dtype=np.int64)
        np.add.at(counts, (depot, week), 1)
        batch = find_batches(counts).is_batch
        cell = depot * (weeks + 1) + week
        for full in np.unique(cell[batch[depot, week]]).tolist():
            found.append(np.flatnonzero(cell == full))
    return sorted(found, key=lambda rows: -len(rows))


def _around(weekly: NDArray[np.generic]) -> FloatArray:
    """Sum of each week and those to either side of it, (d, w)."""
    weeks = weekly.shape[1]
    total = np.concatenate([np.zeros((len(weekly), 1)), np.cumsum(weekly, axis=1)], axis=1)
    last = np.minimum(np.arange(weeks) + WEEKS_TO_EITHER_SIDE + 1, weeks)
    first = np.maximum(np.arange(weeks) - WEEKS_TO_EITHER_SIDE, 0)
    return np.asarray(total[:, last] - total[:, first])


def forecast_batches(
    batches: ShockBatches | BatchedRows, depot_weeks_ahead: ArrayLike
) -> BatchDemand:
    """Expect the pieces that batches will take.

    Parameters
    ----------
    batches : ShockBatches or BatchedRows
        Batches of the past.
    depot_weeks_ahead : array_like, >= 0
        Weeks ahead times the depots looked at.

    Returns
    -------
    BatchDemand
        Mean and variance of what `draw_batch_demand` draws; 0 if there never was a batch.

    Raises
    ------
    ValueError
        If depot_weeks_ahead is negative.

    Notes
    -----
    With b batches in W depot-weeks the rate r is Gamma(b + 1/2, W), so that H depot-weeks hold
    H (b + 1/2)/W batches on average with variance that much plus H^2 (b + 1/2)/W^2.

    Examples
    --------
    >>> seen = ShockBatches(np.array([[True, False]]), np.array([4]), 100)
    >>> forecast_batches(seen, [10.0]).mean.round(2).tolist()
    [0.6]
    """
    ahead = np.atleast_1d(np.asarray(depot_weeks_ahead, dtype=float))
    if not (ahead >= 0).all():
        raise ValueError(f"weeks ahead must be 0 or more, got {ahead.min():g}")
    if not len(batches.sizes):
        return BatchDemand(np.zeros_like(ahead), np.zeros_like(ahead))
    size, square = float(batches.sizes.mean()), float((batches.sizes**2).mean())
    weight = len(batches.sizes) + 0.5
    count = ahead * weight / batches.depot_weeks
    unsure = ahead**2 * weight / batches.depot_weeks**2
    return BatchDemand(count * size, count * square + unsure * size**2)
