"""The range of 8 times in 10 around what many draws of the weeks ahead say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import gamma

from analytics.kernel.effective_days import Floats

LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Range:
    """A mean with the values below which 1 draw in 10, and 9 in 10, would lie; shapes alike."""

    mean: Floats
    lower: Floats
    upper: Floats


def range_of_draws(draws: Floats) -> Range:
    """Say how sure sums over doors are.

    Parameters
    ----------
    draws : (r, ...) the same sum in each of r draws, not negative, r at least 2

    Returns
    -------
    Range
        Of shape (...).

    Raises
    ------
    ValueError
        If there are fewer than two draws.

    Notes
    -----
    The quantiles are those of a gamma distribution with the draws' mean and variance, so that few
    draws do and nothing falls below 0.

    Examples
    --------
    >>> found = range_of_draws(np.array([[90.0], [100.0], [110.0]]))
    >>> float(found.mean[0]), bool(found.lower[0] < 90.0 < 110.0 < found.upper[0])
    (100.0, True)
    """
    if len(draws) < 2:
        raise ValueError(f"a range needs at least two draws, got {len(draws)}")
    mean, variance = draws.mean(axis=0), draws.var(axis=0, ddof=1)
    certain = (variance <= 1e-12 * np.maximum(mean, 1.0) ** 2) | (mean <= 0)
    scale = np.where(certain, 1.0, variance / np.where(mean > 0, mean, 1.0))
    shape = np.where(certain, 1.0, mean / scale)
    lower, upper = (
        np.where(certain, mean, gamma.ppf(level, shape, scale=scale)) for level in (LOW, HIGH)
    )
    return Range(mean, lower, upper)
