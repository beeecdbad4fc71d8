"""Validated life data: what every life model in this package takes in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


class NotEstimableError(ValueError):
    """The data are sound but cannot carry the estimate; the message says why in one sentence."""


@dataclass(frozen=True, eq=False)
class Lifetimes:
    """Lives of one component, each known to end within an interval of ages.

    Build it with `from_ages` or `from_intervals`, which check every row. Lives whose age at
    fitting is unknown do not belong here: an age of 0 in their place would bend the shape
    badly downwards.

    Parameters
    ----------
    lo_cycles : ndarray, shape (n,), door cycles, >= 0
        Age to which the part is known to have survived.
    hi_cycles : ndarray, shape (n,), door cycles, >= lo_cycles
        Age by which it had failed: equal to `lo_cycles` for a failure at a known age, greater
        for a failure found between two readings, infinite for a part that had not failed.
    entry_cycles : ndarray, shape (n,), door cycles, in [0, lo_cycles]
        Age at which the part came under observation (delayed entry); 0 if watched from new.
    weights : ndarray, shape (n,), > 0
        How many equal lives the row stands for.

    Raises
    ------
    ValueError
        If lengths differ, a value is not a number, or a row breaks one of the ranges above.
    """

    lo_cycles: FloatArray
    hi_cycles: FloatArray
    entry_cycles: FloatArray
    weights: FloatArray

    def __post_init__(self) -> None:
        _check_lengths(self)
        _refuse(self.lo_cycles, ~np.isfinite(self.lo_cycles), "an age must be a finite number")
        _refuse(self.lo_cycles, self.lo_cycles < 0, "an age must not be negative")
        _refuse(self.hi_cycles, ~(self.hi_cycles >= self.lo_cycles), "a life ends at or after lo")
        _refuse(self.hi_cycles, self.hi_cycles <= 0, "a failure needs an age above 0 cycles")
        _refuse(self.entry_cycles, ~(self.entry_cycles >= 0), "an entry age must be 0 or more")
        late = self.entry_cycles > self.lo_cycles
        _refuse(self.entry_cycles, late, "a part enters observation before its life ends")
        countable = (self.weights > 0) & np.isfinite(self.weights)
        _refuse(self.weights, ~countable, "a weight must be above 0 and finite")

    @classmethod
    def from_ages(
        cls,
        age_cycles: ArrayLike,
        failed: ArrayLike,
        entry_cycles: ArrayLike | None = None,
        weights: ArrayLike | None = None,
    ) -> Lifetimes:
        """Build from ages known exactly.

        Parameters
        ----------
        age_cycles : array_like, shape (n,), door cycles, >= 0
            Age at failure or at the end of observation.
        failed : array_like of bool, shape (n,)
            True for a failure, False for a part that had not failed (suspended).
        entry_cycles : array_like, shape (n,), door cycles, optional
            Age when observation began; 0 if left out.
        weights : array_like, shape (n,), optional
            Number of equal lives per row; 1 if left out.

        Returns
        -------
        Lifetimes
            Validated lives in the order given.

        Raises
        ------
        ValueError
            If a row breaks a range; the message holds the rule and the first offending value.

        Examples
        --------
        >>> lives = Lifetimes.from_ages([9000, 12000, 15000], [True, False, True])
        >>> lives.failures, lives.suspensions
        (2.0, 1.0)
        """
        age = np.atleast_1d(np.asarray(age_cycles, dtype=float))
        has_failed = np.atleast_1d(np.asarray(failed, dtype=bool))
        if has_failed.shape != age.shape:
            raise ValueError(f"failed has {has_failed.shape} rows, age_cycles {age.shape}")
        hi = np.where(has_failed, age, np.inf)
        return cls(age, hi, _filled(entry_cycles, age, 0.0), _filled(weights, age, 1.0))

    @classmethod
    def from_intervals(
        cls,
        lo_cycles: ArrayLike,
        hi_cycles: ArrayLike,
        entry_cycles: ArrayLike | None = None,
        weights: ArrayLike | None = None,
    ) -> Lifetimes:
        """Build from intervals of age, where some failures were found between two readings.

        Parameters
        ----------
        lo_cycles, hi_cycles : array_like, shape (n,), door cycles
            The failure lies in (lo, hi]; equal values mean a known age, infinite hi suspended.
        entry_cycles, weights : array_like, shape (n,), optional
            As in `from_ages`.

        Returns
        -------
        Lifetimes
            Validated lives in the order given.

        Raises
        ------
        ValueError
            If a row breaks a range; the message holds the rule and the first offending value.

        Examples
        --------
        >>> Lifetimes.from_intervals([100, 400], [250, float("inf")]).between
        array([ True, False])
        """
        lo = np.atleast_1d(np.asarray(lo_cycles, dtype=float))
        hi = np.atleast_1d(np.asarray(hi_cycles, dtype=float))
        return cls(lo, hi, _filled(entry_cycles, lo, 0.0), _filled(weights, lo, 1.0))

    @cached_property
    def exact(self) -> BoolArray:
        """Failures at a known age."""
        return self.hi_cycles == self.lo_cycles

    @cached_property
    def between(self) -> BoolArray:
        """Failures found between two readings."""
        return (self.hi_cycles > self.lo_cycles) & np.isfinite(self.hi_cycles)

    @cached_property
    def suspended(self) -> BoolArray:
        """Lives that had not ended in a failure."""
        return np.isinf(self.hi_cycles)

    @cached_property
    def lives(self) -> float:
        """Number of lives."""
        return float(self.weights.sum())

    @cached_property
    def suspensions(self) -> float:
        """Number of suspended lives."""
        return float(self.weights[self.suspended].sum())

    @cached_property
    def failures(self) -> float:
        """Number of failures, exact or between readings."""
        return float(self.weights[~self.suspended].sum())

    @cached_property
    def exposure_cycles(self) -> float:
        """Door cycles under observation, up to the last age known to be survived."""
        return float((self.weights * (self.lo_cycles - self.entry_cycles)).sum())

    def at_risk(self) -> Lifetimes:
        """Leave out lives that ended at the very age at which they came under observation.

        Returns
        -------
        Lifetimes
            Lives that ran at least some cycles under observation, in the same order.
        """
        ran = (self.entry_cycles < self.lo_cycles) | self.between
        if ran.all():
            return self
        columns = (self.lo_cycles, self.hi_cycles, self.entry_cycles, self.weights)
        lo, hi, entry, weights = (column[ran] for column in columns)
        return Lifetimes(lo, hi, entry, weights)

    def merged(self) -> Lifetimes:
        """Join equal rows into one with the sum of their weights.

        Returns
        -------
        Lifetimes
            The same lives in at most as many rows, sorted by age.
        """
        if len(self.lo_cycles) == 0:
            return self
        order = np.lexsort((self.entry_cycles, self.hi_cycles, self.lo_cycles))
        columns = [each[order] for each in (self.lo_cycles, self.hi_cycles, self.entry_cycles)]
        other = np.logical_or.reduce([each[1:] != each[:-1] for each in columns])
        first = np.concatenate([[0], np.flatnonzero(other) + 1])
        lo, hi, entry = (each[first] for each in columns)
        return Lifetimes(lo, hi, entry, np.add.reduceat(self.weights[order], first))


def _filled(values: ArrayLike | None, like: FloatArray, default: float) -> FloatArray:
    if values is None:
        return np.full(like.shape, default)
    return np.atleast_1d(np.asarray(values, dtype=float))


def _check_lengths(lives: Lifetimes) -> None:
    shapes = {
        "lo_cycles": lives.lo_cycles.shape,
        "hi_cycles": lives.hi_cycles.shape,
        "entry_cycles": lives.entry_cycles.shape,
        "weights": lives.weights.shape,
    }
    if len(set(shapes.values())) > 1 or lives.lo_cycles.ndim != 1:
        raise ValueError(f"life data need columns of equal length, got {shapes}")


def _refuse(values: FloatArray, broken: BoolArray, rule: str) -> None:
    if broken.any():
        row = int(np.argmax(broken))
        raise ValueError(f"{rule}: row {row} has {values[row]:g}")
