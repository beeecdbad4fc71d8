"""Weibull life by maximum likelihood, with suspended lives, delayed entry and interval ages."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gamma, ndtri

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.weibull_likelihood import Curvature, weibull_curvature

FloatArray = NDArray[np.float64]

# Beyond these a "shape" no longer describes a life but a limit of the likelihood.
LOWEST_SHAPE, HIGHEST_SHAPE = 0.05, 100.0
MAX_STEPS = 100
# At this spread of a logarithm the limits lie a factor of ten million apart.
LARGEST_LOG_SE = 5.0
TOLERANCE = 1e-11


@dataclass(frozen=True, eq=False)
class WeibullFit:
    """Maximum-likelihood Weibull life of one component; see `fit_weibull` for every field."""

    shape: float
    scale_cycles: float
    shape_se: float
    scale_se_cycles: float
    covariance: FloatArray
    loglik: float
    lives: float
    failures: float
    suspended: float
    confidence: float
    shape_lower: float
    shape_upper: float
    scale_lower_cycles: float
    scale_upper_cycles: float
    b10_cycles: float
    b10_lower_cycles: float
    b10_upper_cycles: float
    mean_cycles: float


@dataclass(frozen=True, eq=False)
class _Optimum:
    """Highest point of the likelihood, with second derivatives in (shape, ln scale)."""

    shape: float
    log_scale: float
    loglik: float
    hessian: FloatArray


def fit_weibull(lives: Lifetimes, confidence: float = 0.9) -> WeibullFit:
    """Fit a two-parameter Weibull life by maximum likelihood.

    Parameters
    ----------
    lives : Lifetimes
        Lives of one component in cycles; any mix of failures at known ages, failures between
        two readings, suspended lives and delayed entries.
    confidence : float, in (0, 1)
        Confidence of the two-sided limits.

    Returns
    -------
    WeibullFit
        `shape` (no unit), `scale_cycles` (63.2 % have failed), their standard errors from the
        observed information, `covariance` (2, 2) of (shape, ln scale), `loglik`, counts of
        lives, and log-normal limits of shape, scale and of B10 (10 % have failed), cycles;
        `mean_cycles` is the mean life.

    Raises
    ------
    NotEstimableError
        If there is no failure or only one, if all failures lie at one age that no other life
        outlasts, or if the likelihood is still rising at the lowest or highest shape allowed.
    ValueError
        If confidence is not between 0 and 1.

    Notes
    -----
    With H(t) = (t/scale)^shape a failure at age t adds ln h(t) - H(t), one between readings
    -H(lo) + ln(1 - exp(-(H(hi) - H(lo)))), a suspended life -H(t), and an entry age e adds
    H(e). Ages known exactly leave one equation in the shape alone, solved by Newton steps
    inside a bracket; interval ages need the two-dimensional form. A life that ended at its entry
    age was never at risk and is left out, also of the counts. Below about ten failures the
    shape comes out too steep (by a third at six failures): prefer `posterior.weibull_posterior`
    there.

    References
    ----------
    NIST/SEMATECH e-Handbook, section 8.4.1.3; Meeker and Escobar (1998), chapters 8 and 11.

    Examples
    --------
    >>> failed = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
    >>> lives = Lifetimes.from_ages(failed + [500] * 10, [True] * 10 + [False] * 10)
    >>> fit = fit_weibull(lives)
    >>> round(fit.shape, 4), round(fit.scale_cycles, 1)
    (1.7208, 606.5)
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence:g}")
    seen = lives.at_risk()
    _refuse_hopeless(seen)
    if seen.between.any():
        return _described(seen, _newton_both(seen), confidence)
    ages = _ProfileAges(seen)
    return _described(seen, ages.optimum(ages.solve()), confidence)


def survival_probability(
    age_cycles: ArrayLike, shape: ArrayLike, scale_cycles: ArrayLike
) -> FloatArray:
    """Share of new parts that outlive an age.

    Parameters
    ----------
    age_cycles : array_like, cycles, >= 0
        Age; broadcasts with the others.
    shape, scale_cycles : array_like, > 0
        Weibull parameters, scale in cycles.

    Returns
    -------
    ndarray
        exp(-(age/scale)^shape), in [0, 1], of the broadcast shape.

    Raises
    ------
    ValueError
        If shape or scale is not above 0.
    """
    _check_parameters(shape, scale_cycles)
    return np.exp(-_hazard(age_cycles, shape, scale_cycles))


def life_quantile(probability: ArrayLike, shape: ArrayLike, scale_cycles: ArrayLike) -> FloatArray:
    """Age by which a share of new parts has failed.

    Parameters
    ----------
    probability : array_like, in [0, 1)
        Share failed; 0.1 gives B10.
    shape, scale_cycles : array_like, > 0
        Weibull parameters, scale in cycles.

    Returns
    -------
    ndarray
        Age in cycles, of the broadcast shape.

    Raises
    ------
    ValueError
        If shape or scale is not above 0.

    Examples
    --------
    >>> round(float(life_quantile(0.1, 2.0, 90_000)))
    29213
    """
    _check_parameters(shape, scale_cycles)
    hazard = -np.log1p(-np.asarray(probability, dtype=float))
    return scale_cycles * hazard ** (1 / np.asarray(shape, dtype=float))


def _hazard(age_cycles: ArrayLike, shape: ArrayLike, scale_cycles: ArrayLike) -> FloatArray:
    scaled = np.divide(age_cycles, scale_cycles, dtype=float)
    return np.asarray(np.power(scaled, shape), dtype=float)


def _check_parameters(shape: ArrayLike, scale_cycles: ArrayLike) -> None:
    for name, value in (("shape", shape), ("scale_cycles", scale_cycles)):
        lowest = np.min(value)
        if not lowest > 0:
            raise ValueError(f"{name} must be above 0, got {lowest:g}")


def _refuse_hopeless(lives: Lifetimes) -> None:
    if lives.lives == 0:
        raise NotEstimableError("No cycles were run under observation, so no life can be fitted.")
    if lives.failures == 0:
        raise NotEstimableError("No failure is recorded, so a life cannot be fitted.")
    if lives.failures <= 1:
        raise NotEstimableError("Only one failure is recorded: a shape needs at least two.")
    if lives.between.any():
        return
    failed_at = lives.lo_cycles[lives.exact]
    if failed_at.min() == failed_at.max() == lives.lo_cycles.max():
        raise NotEstimableError(
            f"All failures lie at one age ({failed_at[0]:g} cycles) and no life is longer, "
            "so the shape has no upper limit."
        )


class _ProfileAges:
    """The likelihood of exactly known ages after the scale has been maximised out."""

    def __init__(self, lives: Lifetimes) -> None:
        # Ages as a share of the longest keep every power in (0, 1] for any shape.
        ran, entered, failed = lives.lo_cycles > 0, lives.entry_cycles > 0, lives.exact
        ages = np.concatenate([lives.lo_cycles[ran], lives.entry_cycles[entered]])
        weights = np.concatenate([lives.weights[ran], -lives.weights[entered]])
        self.log_longest = float(np.log(ages.max()))
        self.logs = np.log(ages) - self.log_longest
        self.moments = np.stack([weights, weights * self.logs, weights * self.logs**2])
        self.failures = lives.failures
        share = lives.weights[failed] / self.failures
        log_failed = self.logs[failed[ran].nonzero()]
        self.mean_log = float(share @ log_failed)
        spread = float(share @ (log_failed - self.mean_log) ** 2)
        # ln(life) has standard deviation 1.28/shape.
        self.start = 1.28 / np.sqrt(spread) if spread > 0 else 2.0

    def sums(self, shape: float) -> list[float]:
        """Weighted sums of z^shape, z^shape ln z and z^shape (ln z)^2; entries subtract."""
        return (self.moments @ np.exp(shape * self.logs)).tolist()

    def solve(self) -> float:
        """Root of the shape's score by Newton steps that never leave the bracket."""
        low, high = LOWEST_SHAPE, HIGHEST_SHAPE
        shape = float(np.clip(self.start, 2 * low, high / 2))
        for _ in range(MAX_STEPS):
            power, first, second = self.sums(shape)
            ratio = first / power
            score = 1 / shape + self.mean_log - ratio
            low, high = (shape, high) if score > 0 else (low, shape)
            following = shape - score / (-1 / shape**2 - second / power + ratio**2)
            if not low < following < high:
                following = float(np.sqrt(low * high))
            if abs(following - shape) <= TOLERANCE * shape:
                return _inside_limits(following)
            shape = following
        raise NotEstimableError(f"The likelihood did not settle within {MAX_STEPS} steps.")

    def optimum(self, shape: float) -> _Optimum:
        """Scale, log-likelihood and curvature at the best shape, all from the three sums."""
        power, first, second = self.sums(shape)
        log_scale = np.log(power / self.failures) / shape + self.log_longest
        shift = self.log_longest - log_scale
        per = self.failures / power
        once = per * (first + shift * power)
        twice = per * (second + 2 * shift * first + shift**2 * power)
        mixed = shape * once
        hessian = [[-self.failures / shape**2 - twice, mixed], [mixed, -self.failures * shape**2]]
        each = np.log(shape) - log_scale + (shape - 1) * (self.mean_log + shift) - 1
        return _Optimum(shape, float(log_scale), float(self.failures * each), np.array(hessian))


def _inside_limits(shape: float) -> float:
    if shape < LOWEST_SHAPE * 1.001:
        raise NotEstimableError(
            f"The likelihood still rises at shape {LOWEST_SHAPE:g}: these lives carry no shape."
        )
    if shape > HIGHEST_SHAPE * 0.999:
        raise NotEstimableError(
            f"The likelihood still rises at shape {HIGHEST_SHAPE:g}: the failures lie too close."
        )
    return shape


def _newton_both(lives: Lifetimes) -> _Optimum:
    """Maximise over shape and ln scale together, from the fit to interval middles."""
    middle = np.where(lives.between, (lives.lo_cycles + lives.hi_cycles) / 2, lives.lo_cycles)
    plain = Lifetimes.from_ages(middle, ~lives.suspended, lives.entry_cycles, lives.weights)
    ages = _ProfileAges(plain)
    start = ages.optimum(float(np.clip(ages.start, 0.3, 6.0)))
    point = np.array([np.log(start.shape), start.log_scale])
    here = weibull_curvature(lives, start.shape, start.log_scale)
    for _ in range(MAX_STEPS):
        step = _ascent_step(here, float(np.exp(point[0])))
        there = _at(lives, point + step)
        while there.loglik < here.loglik - 1e-12 * abs(here.loglik) and np.abs(step).max() > 1e-10:
            step = step / 2
            there = _at(lives, point + step)
        point, here = point + step, there
        shape = _inside_limits(float(np.exp(point[0])))
        if np.abs(step).max() <= 1e-10:
            return _Optimum(shape, float(point[1]), here.loglik, here.hessian)
    raise NotEstimableError("The readings lie too far apart to tell at what age the parts failed.")


def _at(lives: Lifetimes, point: FloatArray) -> Curvature:
    return weibull_curvature(lives, float(np.exp(point[0])), float(point[1]))


def _ascent_step(here: Curvature, shape: float) -> FloatArray:
    """Newton step in (ln shape, ln scale), bent uphill where the surface is not a hill."""
    to_log = np.array([shape, 1.0])
    gradient = here.gradient * to_log
    hessian = here.hessian * np.outer(to_log, to_log)
    hessian[0, 0] += gradient[0]
    values, vectors = np.linalg.eigh(-hessian)
    values = np.maximum(np.abs(values), 1e-8 * np.abs(values).max())
    step = vectors @ ((vectors.T @ gradient) / values)
    return np.clip(step, -1.0, 1.0)


def _described(lives: Lifetimes, best: _Optimum, confidence: float) -> WeibullFit:
    information = -best.hessian
    if not (information[0, 0] > 0 and np.linalg.det(information) > 0):
        raise NotEstimableError("The likelihood has no peak: these lives carry no shape and scale.")
    covariance = np.linalg.inv(information).astype(float)
    shape, scale = best.shape, float(np.exp(best.log_scale))
    z = float(ndtri(0.5 + confidence / 2))
    shape_se, log_scale_se = np.sqrt(np.diagonal(covariance)).tolist()
    if max(shape_se / shape, log_scale_se) > LARGEST_LOG_SE:
        raise NotEstimableError("The likelihood is all but flat: these lives carry no scale.")
    shape_factor = float(np.exp(z * shape_se / shape))
    scale_factor = float(np.exp(z * log_scale_se))
    log_hazard = float(np.log(-np.log(0.9)))
    toward_b10 = np.array([-log_hazard / shape**2, 1.0])
    b10 = float(np.exp(best.log_scale + log_hazard / shape))
    b10_factor = float(np.exp(z * np.sqrt(toward_b10 @ covariance @ toward_b10)))
    return WeibullFit(
        shape=shape,
        scale_cycles=scale,
        shape_se=shape_se,
        scale_se_cycles=scale * log_scale_se,
        covariance=covariance,
        loglik=best.loglik,
        lives=lives.lives,
        failures=lives.failures,
        suspended=lives.suspensions,
        confidence=confidence,
        shape_lower=shape / shape_factor,
        shape_upper=shape * shape_factor,
        scale_lower_cycles=scale / scale_factor,
        scale_upper_cycles=scale * scale_factor,
        b10_cycles=b10,
        b10_lower_cycles=b10 / b10_factor,
        b10_upper_cycles=b10 * b10_factor,
        mean_cycles=float(scale * gamma(1 + 1 / shape)),
    )
