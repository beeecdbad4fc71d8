"""Survival by the product-limit rule, with suspended lives and delayed entry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """Survival after each distinct failure age; see `product_limit` for every field."""

    at_cycles: FloatArray
    at_risk: FloatArray
    failures: FloatArray
    survival: FloatArray
    standard_error: FloatArray
    lower: FloatArray
    upper: FloatArray
    median_cycles: float | None
    confidence: float


def product_limit(lives: Lifetimes, confidence: float = 0.9) -> SurvivalCurve:
    """Share of parts that outlive each age, without assuming any curve.

    Parameters
    ----------
    lives : Lifetimes
        Lives of one component in cycles. A failure between two readings is placed in the middle
        of its interval.
    confidence : float, in (0, 1)
        Confidence of the two-sided limits at each age.

    Returns
    -------
    SurvivalCurve
        One row per distinct failure age: `at_cycles` (k,), cycles; `at_risk` and `failures`
        (k,), lives; `survival`, `standard_error`, `lower`, `upper` (k,), in [0, 1];
        `median_cycles`, first age at which survival is 0.5 or less, None if it stays above.
        Where survival has reached 0 the standard error is 0 and the limits are 0 and 1.

    Raises
    ------
    NotEstimableError
        If no failure was seen under observation.
    ValueError
        If confidence is not between 0 and 1.

    Notes
    -----
    At risk at age t are lives with entry < t <= end: a part that enters at the very age of a
    failure is not, one suspended at that age is. Survival is the product of 1 - d/n, the
    variance Greenwood's sum, the limits exp(ln S -+ z sqrt(sum d/(n(n-d)))) capped at 1. With
    delayed entry the first risk sets may be small, and one early failure there pulls the whole
    curve down: look at `at_risk`.

    References
    ----------
    Kaplan and Meier (1958); Klein and Moeschberger, Survival Analysis, sections 4.2 and 4.6.

    Examples
    --------
    >>> lives = Lifetimes.from_ages([10, 20, 30], [True, False, True])
    >>> product_limit(lives).survival.round(3).tolist()
    [0.667, 0.0]
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence:g}")
    ends = np.where(lives.between, (lives.lo_cycles + lives.hi_cycles) / 2, lives.lo_cycles)
    seen = ~lives.suspended & (lives.entry_cycles < ends)
    if not seen.any():
        raise NotEstimableError("No failure was seen, so there is no survival curve to draw.")
    ages, group = np.unique(ends[seen], return_inverse=True)
    failed = np.bincount(group, weights=lives.weights[seen]).astype(float)
    at_risk = _weight_below(lives.entry_cycles, lives.weights, ages)
    at_risk = at_risk - _weight_below(ends, lives.weights, ages)
    survival = np.cumprod(1 - failed / at_risk).astype(float)
    gone = survival <= 1e-12
    survival[gone] = 0.0
    left = np.where(gone, 1.0, at_risk - failed)
    log_variance = np.cumsum(failed / (at_risk * left))
    deviation = np.sqrt(log_variance).astype(float)
    reach = float(ndtri(0.5 + confidence / 2)) * deviation
    half = np.flatnonzero(survival <= 0.5 + 1e-12)
    return SurvivalCurve(
        at_cycles=ages,
        at_risk=at_risk,
        failures=failed,
        survival=survival,
        standard_error=survival * deviation,
        lower=survival * np.exp(-reach),
        upper=np.where(gone, 1.0, np.minimum(survival * np.exp(reach), 1.0)),
        median_cycles=float(ages[half[0]]) if len(half) else None,
        confidence=confidence,
    )


def _weight_below(values: FloatArray, weights: FloatArray, ages: FloatArray) -> FloatArray:
    """Weight of the rows whose value lies below each age."""
    order = np.argsort(values, kind="stable")
    total = np.concatenate([[0.0], np.cumsum(weights[order])])
    return total[np.searchsorted(values[order], ages, side="left")]
