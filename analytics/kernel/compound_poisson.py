"""Demand that comes in lots: a Poisson number of jobs, each taking several pieces."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

# Below this rate exp(-rate) underflows; a larger one is halved until it fits, then convolved.
HIGHEST_RATE = 600.0


def compound_poisson_pmf(rate: float, size_pmf: ArrayLike, length: int) -> FloatArray:
    """Distribution of the pieces taken by a Poisson number of jobs.

    Parameters
    ----------
    rate : float, >= 0
        Expected number of jobs in the period.
    size_pmf : array_like, shape (m,), >= 0, sums to 1
        Chance that a job takes 0, 1, 2, ... pieces.
    length : int, >= 1
        Number of chances wanted, from 0 to length - 1 pieces.

    Returns
    -------
    ndarray, shape (length,)
        Chance of each total; sums to less than 1 by what lies beyond.

    Raises
    ------
    ValueError
        If the rate is negative or not finite, length is below 1, or the sizes are no
        distribution.

    Notes
    -----
    Panjer's recursion g(s) = rate/s * sum of j f(j) g(s-j), with g(0) = exp(-rate (1 - f(0))).

    References
    ----------
    Kaas et al., Modern Actuarial Risk Theory, chapter 3 (compound Poisson).

    Examples
    --------
    >>> compound_poisson_pmf(4, [0, 0.25, 0.5, 0.25], 3).round(4).tolist()
    [0.0183, 0.0183, 0.0458]
    """
    sizes = np.asarray(size_pmf, dtype=float)
    if not (np.isfinite(rate) and rate >= 0):
        raise ValueError(f"the rate of jobs must be 0 or more, got {rate:g}")
    if length < 1:
        raise ValueError(f"at least one chance must be asked for, got {length}")
    if sizes.ndim != 1 or (sizes < 0).any() or abs(sizes.sum() - 1) > 1e-9:
        raise ValueError(f"job sizes need chances that sum to 1, got {sizes.sum():g}")
    if rate > HIGHEST_RATE:
        half = compound_poisson_pmf(rate / 2, sizes, length)
        return np.convolve(half, half)[:length]
    weighted = rate * np.arange(len(sizes)) * sizes
    found = np.zeros(length)
    found[0] = np.exp(-rate * (1 - sizes[0]))
    for total in range(1, length):
        reach = min(total, len(sizes) - 1)
        found[total] = weighted[1 : reach + 1] @ found[total - reach : total][::-1] / total
    return found
