"""Money that parts will cost: many counts of different price, some moving together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import gamma

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Spend:
    """Expected money and its range; see `spend_of`."""

    mean: float
    lower: float
    upper: float


def spend_of(
    mean: ArrayLike,
    variance: ArrayLike,
    unit_cost: ArrayLike,
    together: ArrayLike,
    coverage: float = 0.8,
) -> Spend:
    """Range of the money that counts of parts will cost.

    Parameters
    ----------
    mean : array_like, shape (n,), pieces, >= 0
        Expected demand of each part at each place.
    variance : array_like, shape (n,), pieces squared, >= 0
        Its variance.
    unit_cost : array_like, shape (n,), money per piece, >= 0
        What a piece costs.
    together : array_like, shape (n,), int
        Rows with the same number share what is unknown of their level, such as one component's
        life at all depots.
    coverage : float, in (0, 1)
        Share of futures that the range is to hold.

    Returns
    -------
    Spend
        `mean`, and `lower` and `upper` of the range, in money; all 0 where nothing is expected.

    Raises
    ------
    ValueError
        If a value is negative or not finite, or the coverage not between 0 and 1.

    Notes
    -----
    A count's variance is its mean (chance alone) and what is beyond (the level is not known).
    Chance adds up over rows in squares; the level of rows that go together adds up straight:
    variance = sum c^2 min(m, v) + sum over groups (sum c sqrt(max(v - m, 0)))^2. The sum is
    taken as a gamma variable of that mean and variance, which cannot fall below 0.

    Examples
    --------
    >>> found = spend_of([100.0], [100.0], [2.0], [0])
    >>> round(found.mean), round(found.lower), round(found.upper)
    (200, 175, 226)
    """
    m, v, c = (np.atleast_1d(np.asarray(each, dtype=float)) for each in (mean, variance, unit_cost))
    for name, values in (("mean", m), ("variance", v), ("unit_cost", c)):
        if not ((values >= 0) & np.isfinite(values)).all():
            raise ValueError(f"{name} must be 0 or more and finite, got {values.min():g}")
    if not 0 < coverage < 1:
        raise ValueError(f"coverage must lie between 0 and 1, got {coverage:g}")
    expected = float(c @ m)
    by_chance = float(c**2 @ np.minimum(m, v))
    _, group = np.unique(np.asarray(together), return_inverse=True)
    level = np.bincount(group, c * np.sqrt(np.maximum(v - m, 0.0)))
    spread = by_chance + float(level @ level)
    if expected == 0 or spread == 0:
        return Spend(expected, expected, expected)
    shape, scale = expected**2 / spread, spread / expected
    tail = (1 - coverage) / 2
    low, high = gamma.ppf([tail, 1 - tail], shape, scale=scale)
    return Spend(expected, float(low), float(high))
