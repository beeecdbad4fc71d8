"""Whether a power law describes repeated failures: fit, common slope, runs of gaps, limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincc, ndtri

from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.recurrence import RepairHistories

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class CommonSlope:
    """Whether doors share one slope; see `compare_slopes`."""

    slopes: tuple[float, ...]
    statistic: float
    degrees_of_freedom: int
    p: float


@dataclass(frozen=True)
class Reversals:
    """Pairs of gaps of which the later is the longer; see `count_reversals`."""

    reversals: int
    possible: int


@dataclass(frozen=True)
class MeanAtEnd:
    """Cycles between failures at the end of a window, with limits; see `mean_at_end`."""

    cycles: float
    lower_cycles: float
    upper_cycles: float


def cramer_von_mises(histories: RepairHistories) -> float:
    """Distance of the failures from the power law that fits them best.

    Parameters
    ----------
    histories : RepairHistories
        Windows that start at 0, each seen to its end.

    Returns
    -------
    float
        The statistic; for 36 failures 0.213 is exceeded by chance once in twenty times.

    Raises
    ------
    NotEstimableError
        If a window starts later, or there are fewer than two failures.

    Notes
    -----
    1/(12 M) + sum ((t_j/T_j)^b - (2j - 1)/(2M))^2 over the ordered t/T, b the slope less its
    small-sample excess, (M - 1)/M times the maximum-likelihood slope.

    References
    ----------
    MIL-HDBK-189 (1981), appendix C; Crow (1975), AMSAA TR-138.
    """
    share = np.sort(_share_of_window(histories))
    count = len(share)
    if count < 2:
        raise NotEstimableError(f"A fit needs at least two failures, got {count}.")
    slope = (count - 1) / float(-np.log(share).sum())
    ideal = (2 * np.arange(1, count + 1) - 1) / (2 * count)
    return float(1 / (12 * count) + ((share**slope - ideal) ** 2).sum())


def compare_slopes(histories: RepairHistories) -> CommonSlope:
    """Test whether the failures of all doors become more or less frequent at one slope.

    Parameters
    ----------
    histories : RepairHistories
        Windows that start at 0; doors without a failure say nothing.

    Returns
    -------
    CommonSlope
        Slope of every door with failures, the corrected likelihood ratio, its degrees of freedom
        (doors - 1) and the chance of one as large.

    Raises
    ------
    NotEstimableError
        If a window starts later, or fewer than two doors have failures.

    References
    ----------
    Crow (1975), AMSAA TR-138, section 3; MIL-HDBK-189 (1981), appendix C.
    """
    logs = -np.log(_share_of_window(histories))
    failures = np.bincount(histories.event_door)
    doors = np.flatnonzero(failures)
    if len(doors) < 2:
        raise NotEstimableError("A common slope needs two doors with failures at least.")
    sums = np.bincount(histories.event_door, weights=logs)[doors]
    counts = failures[doors]
    slopes, total = counts / sums, counts.sum()
    ratio = 2 * float((counts * np.log(slopes)).sum() - total * np.log(total / sums.sum()))
    free = len(doors) - 1
    correction = 1 + float((1 / counts).sum() - 1 / total) / (6 * free)
    statistic = ratio / correction
    return CommonSlope(tuple(slopes), statistic, free, float(gammaincc(free / 2, statistic / 2)))


def count_reversals(gaps: ArrayLike) -> Reversals:
    """Count the pairs of gaps between failures of which the later is the longer.

    Parameters
    ----------
    gaps : array_like, shape (n,)
        Cycles between one failure and the next, in order.

    Returns
    -------
    Reversals
        Half of the possible ones are expected without a trend; many speak for improvement.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.

    Examples
    --------
    >>> count_reversals([1, 2, 2])
    Reversals(reversals=2, possible=3)
    """
    run = np.atleast_1d(np.asarray(gaps, dtype=float))
    first, second = np.triu_indices(len(run), 1)
    return Reversals(int((run[first] < run[second]).sum()), len(first))


def mean_at_end(histories: RepairHistories, confidence: float = 0.8) -> MeanAtEnd:
    """Cycles between failures that one door has reached at the end of its window.

    Parameters
    ----------
    histories : RepairHistories
        One door, its window starting at 0 and seen to its end.
    confidence : float, in (0, 1)
        Of the limits, half of the rest on either side.

    Returns
    -------
    MeanAtEnd

    Raises
    ------
    NotEstimableError
        If there is more than one door, a window starts later, or fewer than two failures.

    Notes
    -----
    The reciprocal of the intensity of the power law at the window's end, slope with one failure
    taken off; limits by the handbook's approximation.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.2.
    """
    share, n = _share_of_window(histories), len(histories.event_cycles)
    if len(histories.start_cycles) != 1 or n < 2:
        raise NotEstimableError("It takes one door with two failures at least.")
    slope = (n - 1) / float(-np.log(share).sum())
    cycles = float(histories.end_cycles[0]) / (n * slope)
    z = float(ndtri((1 + confidence) / 2))
    long = (n + z**2 / 4 + np.sqrt(n * z**2 / 2 + z**4 / 16)) ** 2
    short = (n - z * np.sqrt(n / 2)) ** 2
    return MeanAtEnd(cycles, cycles * n * (n - 1) / long, cycles * n * (n - 1) / short)


def _share_of_window(histories: RepairHistories) -> FloatArray:
    if (histories.start_cycles > 0).any():
        raise NotEstimableError("The test needs windows that start at 0 cycles.")
    return np.asarray(histories.event_cycles / histories.end_cycles[histories.event_door])
