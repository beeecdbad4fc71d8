"""How long a defect shows before it fails, from what checks found and what failed between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from analytics.kernel.inspection_interval import DelayTime, share_failing_before_look
from analytics.kernel.lifetimes import NotEstimableError

FloatArray = NDArray[np.float64]

# Delays from a hundredth of the usual gap to a hundred times it, evenly by their logarithm.
POINTS, REACH = 241, 100.0


@dataclass(frozen=True, eq=False)
class CheckHistory:
    """What was found and what failed, between one check and the next.

    Parameters
    ----------
    gap_cycles : ndarray, shape (g,), cycles, > 0
        Cycles between two checks of a door.
    found : ndarray, shape (g,), >= 0
        Defects that had not failed, found at the later check.
    tail_cycles : ndarray, shape (t,), cycles, >= 0
        Cycles run since the last check of a door.
    failed_after_cycles : ndarray, shape (f,), cycles, >= 0
        Cycles from the check before a failure to it.
    """

    gap_cycles: FloatArray
    found: FloatArray
    tail_cycles: FloatArray
    failed_after_cycles: FloatArray


@dataclass(frozen=True, eq=False)
class LikelyDelays:
    """Mean delays, (m,), cycles, how likely each is, (m,), and the defects that go with it.

    `defects_per_cycle`, (m,): mean rate at which defects arise on a door if that is the delay.
    """

    delay_cycles: FloatArray
    probability: FloatArray
    defects_per_cycle: FloatArray

    def quantiles(self, shares: list[float]) -> list[float]:
        """Delays that so large a share of the probability lies below."""
        reached = np.cumsum(self.probability) - self.probability / 2
        logs = np.interp(shares, reached, np.log(self.delay_cycles))
        return np.exp(logs).tolist()

    def defects_at(self, delays: list[float]) -> list[float]:
        """Defects per cycle of a door if these are the mean delays."""
        logs = np.log(self.delay_cycles)
        return np.interp(np.log(delays), logs, self.defects_per_cycle).tolist()


def likely_delays(history: CheckHistory) -> LikelyDelays:
    """Weigh every mean delay by what was found and what failed.

    Parameters
    ----------
    history : CheckHistory
        Of all doors together.

    Returns
    -------
    LikelyDelays
        Posterior of the mean delay, flat in its logarithm before the data.

    Raises
    ------
    NotEstimableError
        If nothing was found, or nothing failed: then the delay has no end on one side.

    Notes
    -----
    Defects begin to show at a steady rate k per cycle and fail after an exponential delay of
    mean d unless a check comes first, which finds every defect that shows. Failures then come
    at rate k(1 - exp(-u/d)) at u cycles after a check, and a check after a gap g finds a Poisson
    number with mean k d (1 - exp(-g/d)). k is integrated out under a prior 1/k, which leaves
    prod (1 - exp(-u/d)) prod d (1 - exp(-g/d)) / E(d)^n, E the expectation for k = 1. Given d,
    k has the mean n/E(d).

    References
    ----------
    Baker and Christer (1994), European Journal of Operational Research 73, 407-422.
    """
    found, failed = float(history.found.sum()), len(history.failed_after_cycles)
    if found == 0 or failed == 0:
        raise NotEstimableError("A delay needs defects found at checks and failures between them.")
    usual = float(np.median(history.gap_cycles))
    delay = usual * np.geomspace(1 / REACH, REACH, POINTS)
    shown = history.gap_cycles[history.found > 0]
    counts = history.found[history.found > 0]
    expected = np.array([_expected(history, d) for d in delay.tolist()])
    score = np.array(
        [
            _log(history.failed_after_cycles, d).sum()
            + float(counts @ (np.log(d) + _log(shown, d)))
            for d in delay.tolist()
        ]
    )
    score -= (found + failed) * np.log(expected)
    weight = np.exp(score - score.max())
    return LikelyDelays(delay, weight / weight.sum(), (found + failed) / expected)


def _log(cycles: FloatArray, delay: float) -> FloatArray:
    """Logarithm of the share failed after so many cycles; half a cycle at least."""
    return np.asarray(np.log(-np.expm1(-np.maximum(cycles, 0.5) / delay)))


def _expected(history: CheckHistory, delay: float) -> float:
    """Defects found and failures to be expected at one defect per cycle."""
    tail = history.tail_cycles
    still_showing = -delay * np.expm1(-tail / delay)
    return float(history.gap_cycles.sum() + (tail - still_showing).sum())


def interval_that_finds(share: float, delay_cycles: float) -> float:
    """Cycles between checks at which so large a share of defects is found before it fails.

    Parameters
    ----------
    share : float, in (0, 1)
        Share wanted.
    delay_cycles : float, cycles, > 0
        Mean of the exponential delay from sign to failure.

    Returns
    -------
    float
        Cycles.

    Raises
    ------
    ValueError
        If the share is not between 0 and 1 or the delay not above 0.
    """
    if not 0 < share < 1:
        raise ValueError(f"the share wanted lies between 0 and 1, got {share:g}")
    unit = DelayTime(1.0, 1.0, 1.0)
    if not delay_cycles > 0:
        raise ValueError(f"the delay must be above 0, got {delay_cycles:g}")

    def missing(interval: float) -> float:
        return float(share_failing_before_look(interval, unit)) - (1 - share)

    return delay_cycles * float(brentq(missing, 1e-9, 1e6))
