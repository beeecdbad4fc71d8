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
FUTURES = 4000


@dataclass(frozen=True, eq=False)
class ShockBatches:
    """Batches found: `is_batch` (depots, weeks), `sizes` (b,), pieces, over `depot_weeks`."""

    is_batch: BoolArray
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
    exceeds once in 5,000 weeks; the mean leaves the batches out and is settled in three rounds.

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
        ordinary = np.maximum((~batch).sum(axis=1), 1)
        mean = np.where(batch, 0, counts).sum(axis=1) / ordinary
        # As likely as RARE or less: at least so many in an ordinary week of that depot.
        tail = 1 - pdtr(np.maximum(counts - 1, 0), mean[:, None])
        batch = (counts >= FEWEST_IN_BATCH) & (tail <= RARE)
    return ShockBatches(batch, counts[batch].astype(np.int64), int(counts.size))


def draw_batch_demand(
    batches: ShockBatches, depot_weeks_ahead: float, rng: np.random.Generator
) -> IntArray:
    """Draw the pieces that batches will take.

    Parameters
    ----------
    batches : ShockBatches
        Batches of the past.
    depot_weeks_ahead : float, >= 0
        Weeks ahead times the depots looked at.
    rng : numpy.random.Generator
        Source of chance; the same seed gives the same draws.

    Returns
    -------
    ndarray of int, shape (4000,)
        Pieces in each of 4,000 futures; all 0 if there never was a batch.

    Raises
    ------
    ValueError
        If depot_weeks_ahead is negative.

    Notes
    -----
    Batches per depot-week are Gamma(b + 1/2, depot-weeks seen), their sizes drawn from the past.
    """
    if not depot_weeks_ahead >= 0:
        raise ValueError(f"weeks ahead must be 0 or more, got {depot_weeks_ahead:g}")
    found = len(batches.sizes)
    if found == 0:
        return np.zeros(FUTURES, dtype=np.int64)
    rate = rng.gamma(found + 0.5, 1 / batches.depot_weeks, FUTURES)
    count = rng.poisson(rate * depot_weeks_ahead)
    sizes = rng.choice(batches.sizes, int(count.sum()))
    future = np.repeat(np.arange(FUTURES), count)
    return np.bincount(future, weights=sizes, minlength=FUTURES).astype(np.int64)
