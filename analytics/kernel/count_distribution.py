"""Whole-number demand from a mean and a variance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, gammaincc

FloatArray = NDArray[np.float64]
_CountFunction = Callable[[FloatArray], FloatArray]

# A variance nearer to the mean than this share differs from it by rounding only.
EQUAL_SHARE = 1e-9


@dataclass(frozen=True, eq=False)
class CountDistribution:
    """Distributions of counts, all arrays of one shape; see `match_counts`."""

    mean: FloatArray
    variance: FloatArray
    kind: NDArray[np.str_]

    def cdf(self, count: ArrayLike) -> FloatArray:
        """Chance of at most a count.

        Parameters
        ----------
        count : array_like, whole numbers, broadcasts with the distributions
            Count asked for; below 0 the chance is 0.

        Returns
        -------
        ndarray
            Chance in [0, 1], of the broadcast shape.
        """
        k, mean, variance = np.broadcast_arrays(
            np.floor(np.asarray(count, dtype=float)), self.mean, self.variance
        )
        kind = np.broadcast_to(self.kind, k.shape)
        chance = np.where(k >= 0, 1.0, 0.0)
        asked = k >= 0
        for name, rule in _RULES.items():
            rows = asked & (kind == name)
            if rows.any():
                chance[rows] = rule(k[rows], mean[rows], variance[rows])
        return chance

    def quantile(self, probability: ArrayLike) -> FloatArray:
        """Smallest count whose cumulative chance reaches a probability.

        Parameters
        ----------
        probability : array_like, in [0, 1), broadcasts with the distributions
            Probability to reach.

        Returns
        -------
        ndarray
            Whole numbers, of the broadcast shape.

        Raises
        ------
        ValueError
            If a probability is not in [0, 1).

        Examples
        --------
        >>> match_counts(3.0, 3.0).quantile([0.9, 0.95, 0.99]).tolist()
        [5.0, 6.0, 8.0]
        """
        wanted = np.asarray(probability, dtype=float)
        if not ((wanted >= 0) & (wanted < 1)).all():
            raise ValueError(f"a probability lies in [0, 1), got {wanted.max():g}")
        wanted = np.broadcast_to(wanted, np.broadcast_shapes(wanted.shape, self.mean.shape))
        return smallest_count(self.cdf, wanted, self.mean + 6 * np.sqrt(self.variance) + 8)


def match_counts(mean: ArrayLike, variance: ArrayLike) -> CountDistribution:
    """Choose the distribution of counts that has a given mean and variance.

    Parameters
    ----------
    mean : array_like, >= 0
        Expected count.
    variance : array_like, >= 0
        Variance of the count; broadcasts with the mean.

    Returns
    -------
    CountDistribution
        `kind` is ``negative binomial`` where the variance exceeds the mean, ``binomial`` where
        it falls short, ``Poisson`` where they are equal, ``none`` where the mean is 0.

    Raises
    ------
    ValueError
        If a mean or variance is negative or not finite.

    Notes
    -----
    Negative binomial: chance mean/variance, size mean^2/(variance - mean). Binomial: the next
    whole number of trials at or above mean^2/(mean - variance), chance mean/trials, so its
    variance is the one asked for or slightly more.

    Examples
    --------
    >>> match_counts([3, 2, 2], [6, 2, 1]).kind.tolist()
    ['negative binomial', 'Poisson', 'binomial']
    """
    middle, spread = np.broadcast_arrays(
        np.asarray(mean, dtype=float), np.asarray(variance, dtype=float)
    )
    for name, values in (("mean", middle), ("variance", spread)):
        if not ((values >= 0) & np.isfinite(values)).all():
            raise ValueError(f"a {name} must be 0 or more and finite, got {values.min():g}")
    near = np.abs(spread - middle) <= EQUAL_SHARE * middle
    kind = np.where(spread > middle, "negative binomial", "binomial")
    kind = np.where(middle == 0, "none", np.where(near, "Poisson", kind))
    return CountDistribution(middle, spread, kind)


def smallest_count(
    cdf: _CountFunction, probability: FloatArray, first_guess: FloatArray
) -> FloatArray:
    """Smallest whole numbers at which a cumulative distribution reaches given probabilities.

    Parameters
    ----------
    cdf : callable
        Takes whole numbers of the shape of `probability`, returns chances of that shape.
    probability : ndarray, in [0, 1)
        Probabilities to reach.
    first_guess : ndarray, broadcasts to that shape
        Number likely to be enough; doubled where it is not.

    Returns
    -------
    ndarray
        Whole numbers >= 0.
    """
    high = np.broadcast_to(np.ceil(first_guess), probability.shape).copy()
    short = cdf(high) < probability
    while short.any():
        high[short] = 2 * high[short] + 1
        short = cdf(high) < probability
    low = np.full(probability.shape, -1.0)
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        enough = cdf(middle) >= probability
        high, low = np.where(enough, middle, high), np.where(enough, low, middle)
    # A probability of 0 is reached by every count, also below 0.
    return np.maximum(high, 0.0)


def _poisson(k: FloatArray, mean: FloatArray, _variance: FloatArray) -> FloatArray:
    return gammaincc(k + 1, mean)


def _negative_binomial(k: FloatArray, mean: FloatArray, variance: FloatArray) -> FloatArray:
    return betainc(mean**2 / (variance - mean), k + 1, mean / variance)


def _binomial(k: FloatArray, mean: FloatArray, variance: FloatArray) -> FloatArray:
    # Rounded first, so that a whole number of trials is not lifted to the next by rounding.
    trials = np.ceil(np.round(mean**2 / (mean - variance), 9))
    trials = np.maximum(trials, np.ceil(mean))
    inside = k < trials
    rest = np.where(inside, trials - k, 1.0)
    return np.where(inside, betainc(rest, k + 1, 1 - mean / trials), 1.0)


_RULES = {
    "Poisson": _poisson,
    "negative binomial": _negative_binomial,
    "binomial": _binomial,
}
