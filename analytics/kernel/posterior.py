"""Weibull life as a grid of weighted (shape, scale) pairs: one path from no failure to many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincinv, logsumexp

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError

FloatArray = NDArray[np.float64]

SHAPE_POINTS, SCALE_POINTS = 61, 61
LOWEST_SHAPE, HIGHEST_SHAPE = 0.1, 20.0
# Without a failure the data bound the scale from below only. The grid then ends where the data
# would have been expected to hold this many failures, which stands near the median of the
# customary half-failure rule.
FEWEST_EXPECTED_FAILURES = 0.05
MOST_EXPECTED_WITHOUT_FAILURE = 20.0
FAILURES_FOR_DATA = 3
LOG_DEPTH = 14.0
INTERVAL_ROWS_AT_ONCE = 200


@dataclass(frozen=True)
class FamilyPrior:
    """What a family of parts is known to do before its own lives are looked at.

    Parameters
    ----------
    shape_median : float, > 0
        Middle of the shape before any data.
    shape_log_sd : float, > 0
        Standard deviation of ln(shape).
    scale_median_cycles : float, cycles, > 0, optional
        Middle of the scale; left out, every ln(scale) is equally likely.
    scale_log_sd : float, > 0, optional
        Standard deviation of ln(scale); needed with `scale_median_cycles`.

    Raises
    ------
    ValueError
        If a value is not above 0, or only one of the two scale values is given.
    """

    shape_median: float = 1.5
    shape_log_sd: float = 0.5
    scale_median_cycles: float | None = None
    scale_log_sd: float | None = None

    def __post_init__(self) -> None:
        if (self.scale_median_cycles is None) != (self.scale_log_sd is None):
            raise ValueError("a prior of the scale needs both its median and its spread")
        for name, value in vars(self).items():
            if value is not None and not value > 0:
                raise ValueError(f"{name} must be above 0, got {value:g}")


# Common practice, no source: springs and cables wear, electronics fail almost by chance.
FAMILY_PRIORS = {
    "default": FamilyPrior(),
    "spring": FamilyPrior(2.2, 0.4),
    "cable": FamilyPrior(2.2, 0.4),
    "electronics": FamilyPrior(1.1, 0.4),
}


REVISION_SHAPE_LOG_SD, REVISION_SCALE_LOG_SD = 0.25, 0.7


@dataclass(frozen=True)
class LifeSummary:
    """Medians and 5-95 % ranges of shape, scale and B10 (cycles); P(shape > 1)."""

    shape_median: float
    shape_lower: float
    shape_upper: float
    scale_median_cycles: float
    scale_lower_cycles: float
    scale_upper_cycles: float
    b10_median_cycles: float
    b10_lower_cycles: float
    b10_upper_cycles: float
    shape_above_one: float


@dataclass(frozen=True, eq=False)
class WeibullDraws:
    """Equally likely pairs: `shape` (d,) and `scale_cycles` (d,), cycles."""

    shape: FloatArray
    scale_cycles: FloatArray


@dataclass(frozen=True, eq=False)
class WeibullPosterior:
    """Weighted grid of shapes and scales; see `weibull_posterior` for every field."""

    shape: FloatArray
    scale_cycles: FloatArray
    probability: FloatArray
    lives: float
    failures: float
    evidence: str
    prior: FamilyPrior

    def interval(self, values: ArrayLike, probabilities: ArrayLike) -> FloatArray:
        """Quantiles of any quantity that is known at each grid point.

        Parameters
        ----------
        values : array_like, shape (s, v)
            The quantity at each (shape, scale) of the grid.
        probabilities : array_like, shape (p,), in (0, 1)
            Probabilities of the quantiles.

        Returns
        -------
        ndarray, shape (p,)
            Quantiles in the unit of the values.
        """
        flat = np.broadcast_to(values, self.probability.shape).ravel()
        order = np.argsort(flat, kind="stable")
        weights = self.probability.ravel()[order]
        middle = np.cumsum(weights) - weights / 2
        return np.interp(np.asarray(probabilities, dtype=float), middle, flat[order])

    def summary(self) -> LifeSummary:
        """Medians and 5-95 % ranges of shape, scale and B10.

        Returns
        -------
        LifeSummary
            Shape without unit, scale and B10 in cycles, P(shape > 1) in [0, 1].
        """
        levels = [0.5, 0.05, 0.95]
        shape = self.shape[:, None]
        by_shape = self.probability.sum(axis=1)
        b10 = self.scale_cycles * (-np.log(0.9)) ** (1 / shape)
        middle = np.cumsum(by_shape) - by_shape / 2
        below_one = np.interp(0.0, np.log(self.shape), middle, left=0.0, right=1.0)
        figures = [
            *np.interp(levels, middle, self.shape),
            *self.interval(self.scale_cycles, levels),
            *self.interval(b10, levels),
            1 - below_one,
        ]
        return LifeSummary(*(float(figure) for figure in figures))

    def draws(self, count: int = 24) -> WeibullDraws:
        """Equally likely pairs spread evenly over the posterior, the same at every call.

        Parameters
        ----------
        count : int, >= 1
            Number of pairs.

        Returns
        -------
        WeibullDraws
            `shape` (count,) without unit and `scale_cycles` (count,) in cycles.

        Raises
        ------
        ValueError
            If count is below 1.

        Notes
        -----
        Each of `count` equal strata of the shape gives one pair, and so does each equal stratum
        of the scale at that shape (a golden-ratio lattice), so that 24 pairs carry the mean of
        a forecast as well as several hundred random ones.
        """
        if count < 1:
            raise ValueError(f"at least one draw is needed, got {count}")
        shape_at = (np.arange(count) + 0.5) / count
        scale_at = (
            np.argsort(np.argsort((np.arange(count) * 0.6180339887498949) % 1)) + 0.5
        ) / count
        by_shape = self.probability.sum(axis=1)
        middle = np.cumsum(by_shape) - by_shape / 2
        rows = np.interp(shape_at, middle, np.arange(len(by_shape)))
        log_scale = np.array([self._log_scale(r, u) for r, u in zip(rows, scale_at, strict=True)])
        shape = np.exp(np.interp(rows, np.arange(len(by_shape)), np.log(self.shape)))
        return WeibullDraws(shape, np.exp(log_scale))

    def _log_scale(self, row: float, probability: float) -> float:
        """Quantile of ln(scale) between the two grid shapes that hold a fractional row."""
        low = int(row)
        high = min(low + 1, len(self.shape) - 1)
        ends = []
        for index in (low, high):
            weights = self.probability[index] / self.probability[index].sum()
            middle = np.cumsum(weights) - weights / 2
            ends.append(np.interp(probability, middle, np.log(self.scale_cycles[index])))
        return float(ends[0] + (row - low) * (ends[1] - ends[0]))


def prior_of_revision(earlier: WeibullPosterior) -> FamilyPrior:
    """What a new revision of a part is expected to do before its own lives are looked at.

    Parameters
    ----------
    earlier : WeibullPosterior
        Life of the revision before it.

    Returns
    -------
    FamilyPrior
        The shape of the revision before, give or take 25 %: what wears stays the same. The
        scale of it, give or take a factor of two: as long as nothing is known of the new one,
        it is taken to last as long.
    """
    found = earlier.summary()
    return FamilyPrior(
        found.shape_median,
        REVISION_SHAPE_LOG_SD,
        found.scale_median_cycles,
        REVISION_SCALE_LOG_SD,
    )


def weibull_posterior(lives: Lifetimes, prior: FamilyPrior | None = None) -> WeibullPosterior:
    """Weigh every plausible (shape, scale) by the lives and a weak family prior.

    Parameters
    ----------
    lives : Lifetimes
        Lives of one component in cycles, with any number of failures from none.
    prior : FamilyPrior, optional
        Prior of the part's family; `FamilyPrior()` if left out.

    Returns
    -------
    WeibullPosterior
        `shape` (s,) rising; `scale_cycles` (s, v), cycles, one row per shape;
        `probability` (s, v), sums to 1; counts of lives and failures; `evidence` is ``data``
        from three failures on, else ``mostly prior``.

    Raises
    ------
    NotEstimableError
        If no cycles were run under observation.

    Notes
    -----
    ln(shape) is normal about the family's median and ln(scale) flat unless the prior says
    otherwise. For ages known exactly the failures the data should have held at a given pair,
    v = A/scale^shape with A the sum of t^shape less entry^shape, follow a gamma distribution
    whatever the shape, so the grid is laid out in (ln shape, ln v): it stays even however few
    or many lives there are. With three to six failures the shape is still drawn to the family's
    median: at a true shape of 3 and a median of 1.5 to about 2.3 at five failures.
    Without a failure the scale has no upper end; the grid stops where 0.05 failures would have
    been expected, and only the lower bounds should be used.

    References
    ----------
    Meeker and Escobar (1998), chapter 14 (Bayesian methods for life data).

    Examples
    --------
    >>> lives = Lifetimes.from_ages([9e3, 14e3, 2e4, 3e4], [True, True, True, False])
    >>> found = weibull_posterior(lives)
    >>> found.evidence, round(float(found.probability.sum()), 6)
    ('data', 1.0)
    """
    prior = prior or FamilyPrior()
    merged = lives.at_risk().merged()
    if merged.lives == 0:
        raise NotEstimableError("No cycles were run under observation, so no life can be weighed.")
    log_shape = np.linspace(np.log(LOWEST_SHAPE), np.log(HIGHEST_SHAPE), SHAPE_POINTS)
    grid = _grid(merged, prior, log_shape)
    for _ in range(3):
        kept = logsumexp(grid.log_weight, axis=1)
        inside = np.flatnonzero(kept > kept.max() - LOG_DEPTH)
        first, last = max(inside[0] - 1, 0), min(inside[-1] + 1, SHAPE_POINTS - 1)
        log_shape = np.linspace(log_shape[first], log_shape[last], SHAPE_POINTS)
        grid = _grid(merged, prior, log_shape)
    probability = np.exp(grid.log_weight - logsumexp(grid.log_weight))
    evidence = "data" if lives.failures >= FAILURES_FOR_DATA else "mostly prior"
    scale = np.exp(grid.log_scale)
    shape = np.exp(log_shape)
    return WeibullPosterior(shape, scale, probability, lives.lives, lives.failures, evidence, prior)


@dataclass(frozen=True, eq=False)
class _Grid:
    """ln(scale) and the unscaled log weight at each (ln shape, ln expected failures)."""

    log_scale: FloatArray
    log_weight: FloatArray


def _grid(lives: Lifetimes, prior: FamilyPrior, log_shape: FloatArray) -> _Grid:
    """Likelihood times prior, on even steps of ln(shape) and of ln(expected failures)."""
    shape = np.exp(log_shape)[:, None]
    ages = np.where(lives.between, (lives.lo_cycles + lives.hi_cycles) / 2, lives.lo_cycles)
    longest = ages.max()
    sums = _power_sums(ages / longest, lives.entry_cycles / longest, lives.weights, shape)
    at_longest = np.log(sums)[:, None]
    scale_median = prior.scale_median_cycles or longest
    at_prior = at_longest + shape * np.log(longest / scale_median)
    ends = _narrowed(_ends_by_lives(lives, shape), prior, lives.failures, at_prior, shape)
    log_expected = ends.low + (ends.high - ends.low) * np.linspace(0, 1, SCALE_POINTS)
    log_scale = np.log(longest) + (at_longest - log_expected) / shape
    exact = lives.weights[lives.exact]
    log_z = exact @ np.log(lives.lo_cycles[lives.exact]) - exact.sum() * log_scale
    weight = exact.sum() * (np.log(shape) - log_scale) + (shape - 1) * log_z
    weight = weight - _hazard_spent(lives, shape, log_scale, longest, log_expected)
    # An even step in ln(expected failures) is 1/shape of it in ln(scale), where the prior is flat.
    weight = weight + np.log(ends.high - ends.low) - np.log(shape)
    off = (log_shape[:, None] - np.log(prior.shape_median)) / prior.shape_log_sd
    weight = weight - off**2 / 2
    if prior.scale_log_sd is not None:
        off = (log_scale - np.log(scale_median)) / prior.scale_log_sd
        weight = weight - off**2 / 2
    return _Grid(log_scale, weight)


@dataclass(frozen=True, eq=False)
class _Ends:
    """Lowest and highest ln(expected failures) of the grid, one of each per shape, (s, 1)."""

    low: FloatArray
    high: FloatArray


def _ends_by_lives(lives: Lifetimes, shape: FloatArray) -> _Ends:
    """Ends that hold all but a few millionths of the gamma distribution of expected failures."""
    low, high = np.log(FEWEST_EXPECTED_FAILURES), np.log(MOST_EXPECTED_WITHOUT_FAILURE)
    if lives.failures > 0:
        spread = 1.6 if lives.between.any() else 1.0
        middle = np.log(lives.failures)
        tails = np.log(gammaincinv(lives.failures, [1e-6, 1 - 1e-6])) - middle
        low, high = middle + spread * tails
    return _Ends(np.full_like(shape, low), np.full_like(shape, high))


def _narrowed(
    ends: _Ends, prior: FamilyPrior, failures: float, at_prior: FloatArray, shape: FloatArray
) -> _Ends:
    """Ends where lives and a prior of the scale agree, or between the two if they do not."""
    if prior.scale_log_sd is None:
        return ends
    reach = 5 * shape * prior.scale_log_sd
    # Without a failure the lives set no lower end: the prior alone does.
    low = at_prior - reach if failures == 0 else np.maximum(at_prior - reach, ends.low)
    high = np.minimum(at_prior + reach, ends.high)
    apart = low >= high
    middle = (ends.low + ends.high) / 2
    return _Ends(
        np.where(apart, np.minimum(at_prior, middle), low),
        np.where(apart, np.maximum(at_prior, middle) + 1e-9, high),
    )


def _power_sums(
    ages: FloatArray, entries: FloatArray, weights: FloatArray, shape: FloatArray
) -> FloatArray:
    entered = entries > 0
    return ages**shape @ weights - entries[entered] ** shape @ weights[entered]


def _hazard_spent(
    lives: Lifetimes,
    shape: FloatArray,
    log_scale: FloatArray,
    longest: float,
    log_expected: FloatArray,
) -> FloatArray:
    """Cumulative hazard run through, less what the failures between readings add back."""
    between = lives.between
    if not between.any():
        return np.broadcast_to(np.exp(log_expected), log_scale.shape)
    lo, hi = lives.lo_cycles / longest, lives.hi_cycles[between] / longest
    scaled = np.exp(shape * (np.log(longest) - log_scale))
    sums = _power_sums(lo, lives.entry_cycles / longest, lives.weights, shape)
    spent = sums[:, None] * scaled
    rises = hi**shape - lo[between] ** shape
    count = lives.weights[between]
    for start in range(0, len(count), INTERVAL_ROWS_AT_ONCE):
        rows = slice(start, start + INTERVAL_ROWS_AT_ONCE)
        gaps = np.maximum(rises[:, None, rows] * scaled[:, :, None], 1e-300)
        spent = spent - np.log(-np.expm1(-gaps)) @ count[rows]
    return spent
