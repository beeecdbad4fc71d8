"""Failures of repairable doors against age: the mean cumulative function."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from analytics.kernel.lifetimes import NotEstimableError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ONE_DOOR = "One door only: without a second there is no spread between doors to give limits."


@dataclass(frozen=True, eq=False)
class RepairHistories:
    """Observation windows of doors and the failures within them.

    Parameters
    ----------
    start_cycles, end_cycles : ndarray, shape (u,), lifetime cycles, 0 <= start <= end
        Window of each door.
    event_door : ndarray of int, shape (e,), in [0, u)
        Index of the door that failed.
    event_cycles : ndarray, shape (e,), lifetime cycles
        Age of that door at the failure, within its window.

    Raises
    ------
    ValueError
        If lengths differ, a window is turned round, or an event lies outside its window.
    """

    start_cycles: FloatArray
    end_cycles: FloatArray
    event_door: IntArray
    event_cycles: FloatArray

    def __post_init__(self) -> None:
        if self.start_cycles.shape != self.end_cycles.shape:
            raise ValueError("every door needs a start and an end of its window")
        if self.event_door.shape != self.event_cycles.shape:
            raise ValueError("every event needs a door and an age")
        _refuse(self.start_cycles, ~(self.start_cycles >= 0), "a window starts at 0 or later")
        turned = ~((self.end_cycles >= self.start_cycles) & np.isfinite(self.end_cycles))
        _refuse(self.end_cycles, turned, "a window ends at or after its start")
        lost = (self.event_door < 0) | (self.event_door >= self.doors)
        _refuse(self.event_door, lost, "an event belongs to one of the doors")
        inside = (self.event_cycles >= self.start_cycles[self.event_door]) & (
            self.event_cycles <= self.end_cycles[self.event_door]
        )
        _refuse(self.event_cycles, ~inside, "an event lies within the window of its door")

    @classmethod
    def from_columns(
        cls,
        start_cycles: ArrayLike,
        end_cycles: ArrayLike,
        event_door: ArrayLike,
        event_cycles: ArrayLike,
    ) -> RepairHistories:
        """Build from anything that numpy takes for columns.

        Parameters
        ----------
        start_cycles, end_cycles, event_door, event_cycles : array_like
            As for the class.

        Returns
        -------
        RepairHistories
            Validated histories.

        Raises
        ------
        ValueError
            As for the class.
        """
        return cls(
            np.atleast_1d(np.asarray(start_cycles, dtype=float)),
            np.atleast_1d(np.asarray(end_cycles, dtype=float)),
            np.atleast_1d(np.asarray(event_door, dtype=np.int64)),
            np.atleast_1d(np.asarray(event_cycles, dtype=float)),
        )

    @property
    def doors(self) -> int:
        """Number of doors."""
        return len(self.start_cycles)

    @property
    def failures(self) -> int:
        """Number of events."""
        return len(self.event_cycles)


@dataclass(frozen=True, eq=False)
class MeanCumulativeFunction:
    """Mean failures per door up to each age; see `mean_cumulative_function`."""

    at_cycles: FloatArray
    at_risk: IntArray
    failures: IntArray
    mcf: FloatArray
    standard_error: FloatArray
    lower: FloatArray
    upper: FloatArray
    confidence: float
    reason: str


def mean_cumulative_function(
    histories: RepairHistories, confidence: float = 0.9
) -> MeanCumulativeFunction:
    """Mean number of failures per door up to each age, over doors with unequal windows.

    Parameters
    ----------
    histories : RepairHistories
        Windows and failures in lifetime cycles.
    confidence : float, in (0, 1)
        Confidence of the two-sided limits at each age.

    Returns
    -------
    MeanCumulativeFunction
        One row per distinct age with a failure: `at_cycles` (k,), cycles; `at_risk` and
        `failures` (k,); `mcf`, `standard_error`, `lower`, `upper` (k,), failures per door.
        With a single door the last three are nan and `reason` says so.

    Raises
    ------
    NotEstimableError
        If there is no failure.
    ValueError
        If confidence is not between 0 and 1.

    Notes
    -----
    At risk at age t are the doors with start < t <= end; the curve rises there by events/at
    risk. The variance is taken from door to door (sandwich form), sum over doors of
    (sum over t of Y(t) (dN(t) - dM(t))/n(t))^2, so clustered failures widen it; limits are
    mcf exp(-+ z se/mcf). A failure at the very start of its window counts its door as at risk.
    With fewer than 20 doors nominal 90 % limits hold about 84 %.

    References
    ----------
    Nelson (1995), Technometrics 37, 147-157; Lawless and Nadeau (1995), Technometrics 37,
    158-168.

    Examples
    --------
    >>> doors = RepairHistories.from_columns([0, 0], [100, 60], [0, 1, 0], [20, 50, 80])
    >>> mean_cumulative_function(doors).mcf.tolist()
    [0.5, 1.0, 2.0]
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence:g}")
    if histories.failures == 0:
        raise NotEstimableError("No failure is recorded, so there is no curve to draw.")
    start = histories.start_cycles.copy()
    at_start = histories.event_cycles == start[histories.event_door]
    early = histories.event_door[at_start]
    start[early] = np.nextafter(start[early], -np.inf)
    ages, group = np.unique(histories.event_cycles, return_inverse=True)
    failed = np.bincount(group)
    at_risk = _count_below(start, ages) - _count_below(histories.end_cycles, ages)
    mcf = np.cumsum(failed / at_risk)
    error = np.sqrt(_sandwich_variance(histories, start, ages, group, at_risk))
    reach = np.exp(float(ndtri(0.5 + confidence / 2)) * error / mcf)
    single = histories.doors == 1
    hidden = np.full_like(mcf, np.nan)
    return MeanCumulativeFunction(
        at_cycles=ages,
        at_risk=at_risk,
        failures=failed,
        mcf=mcf,
        standard_error=hidden if single else error,
        lower=hidden if single else mcf / reach,
        upper=hidden if single else mcf * reach,
        confidence=confidence,
        reason=ONE_DOOR if single else "",
    )


def _sandwich_variance(
    histories: RepairHistories,
    start: FloatArray,
    ages: FloatArray,
    group: IntArray,
    at_risk: IntArray,
) -> FloatArray:
    """Sum over doors of their squared influence on the curve, at every age, in one pass.

    The influence of a door before age t is what its own failures added, less what was expected
    of it since its start. At t every door at risk loses the same share; so the sum of squares
    needs only the sum of the influences at risk and the influence of the doors that fail.
    """
    failed = np.bincount(group)
    share = failed / at_risk**2
    spent = np.concatenate([[0.0], np.cumsum(share)])
    spent_at_start = spent[np.searchsorted(ages, start, side="right")]
    # One whole number for each pair of door and age: far quicker to sort than the pairs.
    pairs, counts = np.unique(histories.event_door * len(ages) + group, return_counts=True)
    door, at = np.divmod(pairs, len(ages))
    gained = counts / at_risk[at]
    running = np.cumsum(gained)
    first = np.searchsorted(door, door, side="left")
    own_before = running - gained - np.where(first > 0, running[first - 1], 0.0)
    influence = own_before - (spent[at] - spent_at_start[door])
    added = np.bincount(at, weights=gained, minlength=len(ages))
    left = np.bincount(
        np.searchsorted(ages, histories.end_cycles[door], side="right"),
        weights=gained,
        minlength=len(ages) + 1,
    )
    held = np.cumsum(added) - added - np.cumsum(left)[:-1]
    entered = _sum_below(start, spent_at_start, ages)
    entered = entered - _sum_below(histories.end_cycles, spent_at_start, ages)
    at_risk_sum = held - at_risk * spent[:-1] + entered
    jump = 2 * gained * (influence - share[at]) + gained**2
    change = np.bincount(at, weights=jump, minlength=len(ages))
    change = change - 2 * share * at_risk_sum + at_risk * share**2
    return np.maximum(np.cumsum(change), 0.0)


def _count_below(values: FloatArray, ages: FloatArray) -> IntArray:
    return np.searchsorted(np.sort(values), ages, side="left")


def _sum_below(values: FloatArray, weights: FloatArray, ages: FloatArray) -> FloatArray:
    order = np.argsort(values, kind="stable")
    total = np.concatenate([[0.0], np.cumsum(weights[order])])
    return total[np.searchsorted(values[order], ages, side="left")]


def _refuse(values: NDArray[np.generic], broken: NDArray[np.bool_], rule: str) -> None:
    if broken.any():
        row = int(np.argmax(broken))
        raise ValueError(f"{rule}: row {row} has {values[row]:g}")
