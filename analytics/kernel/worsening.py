"""A watch over the months: is a group failing more often than it used to?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

WATCHED_RATIO = 1.6
# Limits found by simulation for one false alarm in ten groups over five years.
EXPECTED_PER_MONTH = np.array([1.0, 4.0, 15.0])
ALARM_LIMITS = np.array([3.65, 4.43, 4.70])


@dataclass(frozen=True, eq=False)
class WorseningWatch:
    """Sum after each month (m,), its limit, and the month of the first alarm (from 0) or None."""

    level: FloatArray
    limit: float
    first_alarm: int | None


def watch_failures(
    failures: ArrayLike, expected: ArrayLike, dispersion: float = 1.0
) -> WorseningWatch:
    """Add up the monthly evidence that failures have risen by 60 %.

    Parameters
    ----------
    failures : array_like, shape (m,), >= 0
        Failures of each month, oldest first.
    expected : array_like, shape (m,), > 0
        Failures expected in each: cycles run times the rate of the 24 months before the watch.
    dispersion : float, >= 1
        Variance over mean of the monthly counts; 1 if they vary by chance alone.

    Returns
    -------
    WorseningWatch
        `level` (m,), no unit, 0 or more; `limit` above which it is an alarm; `first_alarm`.

    Raises
    ------
    ValueError
        If lengths differ, a count is negative, an expectation is not above 0, or dispersion is
        below 1.

    Notes
    -----
    s = max(0, s + (y ln 1.6 - expected 0.6)/dispersion). The limit follows the mean expected
    per month (3.65, 4.43, 4.70 at 1, 4, 15) so that a steady group raises one false alarm in
    ten over five years. A doubling is seen after about 9, 3 and 1 months; a rise by half after
    21, 8 and 3. Counts that vary more than by chance must be given their dispersion, else half
    of all steady groups raise an alarm.

    References
    ----------
    Lucas (1985), Counted data CUSUM's, Technometrics 27, 129-144.

    Examples
    --------
    >>> watch_failures([4, 5, 12, 13], [4.0] * 4).first_alarm
    3
    """
    y = np.atleast_1d(np.asarray(failures, dtype=float))
    mu = np.atleast_1d(np.asarray(expected, dtype=float))
    if y.shape != mu.shape:
        raise ValueError(f"{y.shape} months do not match {mu.shape} expectations")
    if not (y >= 0).all():
        raise ValueError(f"failures must be 0 or more, got {y.min():g}")
    if not ((mu > 0) & np.isfinite(mu)).all():
        raise ValueError(f"expected failures must be above 0, got {mu.min():g}")
    if not dispersion >= 1:
        raise ValueError(f"dispersion must be 1 or more, got {dispersion:g}")
    evidence = (y * np.log(WATCHED_RATIO) - mu * (WATCHED_RATIO - 1)) / dispersion
    # max(0, s + e) step by step is the sum so far less its lowest point so far.
    total = np.cumsum(evidence)
    level = total - np.minimum.accumulate(np.minimum(total, 0.0))
    limit = float(np.interp(np.log(mu.mean()), np.log(EXPECTED_PER_MONTH), ALARM_LIMITS))
    over = np.flatnonzero(level > limit)
    return WorseningWatch(level, limit, int(over[0]) if len(over) else None)
