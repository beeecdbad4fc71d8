"""Lifetime cycles of doors: counters, exchanges, and cycles at any moment of the record."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.effective_days import Floats, Ints, door_key

if TYPE_CHECKING:
    from analytics.kernel.judgement import Judgement

Flags = NDArray[np.bool_]
Codes = NDArray[np.int8]


class Ruling(IntEnum):
    """Who decides whether a reading counts."""

    MACHINE = 0
    ACCEPTED = 1
    HELD = 2


class Place(IntEnum):
    """Where a moment lies among the accepted points of its door."""

    INTERPOLATED = 0
    BEFORE_FIRST = 1
    AFTER_LAST = 2
    NO_POINT = 3


@dataclass(frozen=True)
class Doors:
    """What is known of each door before any reading.

    Parameters
    ----------
    opening_cycles : (n,) lifetime cycles when the record begins
    record_from_day : (n,) epoch days; nan where the beginning is not dated
    modulus : (n,) counts at which the model's counter starts again from 0 (10**digits)
    counts_per_cycle : (n,) 1 or 2, of the model

    Notes
    -----
    Modulus and count basis serve the counter that no row describes; a described counter brings
    its own.
    """

    opening_cycles: Floats
    record_from_day: Floats
    modulus: Floats
    counts_per_cycle: Floats

    def __len__(self) -> int:
        return len(self.opening_cycles)


@dataclass(frozen=True)
class CounterSegments:
    """Counters as recorded, in any order.

    Parameters
    ----------
    door : (s,) int64
    first_value : (s,) counts shown when fitted
    last_value : (s,) counts shown when removed; -1 unknown
    modulus : (s,) counts
    counts_per_cycle : (s,) 1 or 2
    fitted_day, removed_day : (s,) epoch days; removed nan while fitted
    """

    door: Ints
    first_value: Floats
    last_value: Floats
    modulus: Floats
    counts_per_cycle: Floats
    fitted_day: Floats
    removed_day: Floats

    @classmethod
    def none(cls) -> CounterSegments:
        empty = np.zeros(0)
        return cls(np.zeros(0, np.int64), empty, empty, empty, empty, empty, empty)


@dataclass(frozen=True)
class Readings:
    """Counter readings, door after door, each door's in order of time.

    Parameters
    ----------
    offsets : (n+1,) int64; door i owns rows offsets[i] to offsets[i+1]
    day : (r,) epoch days, strictly ascending within a door
    value : (r,) counts as read
    ruling : (r,) int8, see `Ruling`

    Raises
    ------
    ValueError
        If lengths disagree or a door's moments do not ascend.
    """

    offsets: Ints
    day: Floats
    value: Floats
    ruling: Codes

    def __post_init__(self) -> None:
        rows = len(self.day)
        if self.offsets[-1] != rows or len(self.value) != rows or len(self.ruling) != rows:
            raise ValueError(
                f"Offsets end at {self.offsets[-1]}, but there are {rows} moments, "
                f"{len(self.value)} values and {len(self.ruling)} rulings."
            )
        falls = np.diff(self.day) <= 0
        starts = self.offsets[1:-1]
        falls[starts[(starts > 0) & (starts < rows)] - 1] = False
        if np.any(falls):
            row = int(np.flatnonzero(falls)[0]) + 1
            raise ValueError(
                f"Moments of a door must ascend; row {row} ({self.day[row]}) "
                f"does not follow {self.day[row - 1]}."
            )

    def door(self) -> Ints:
        """Return the door of every reading, (r,)."""
        return np.repeat(np.arange(len(self.offsets) - 1), np.diff(self.offsets))


@dataclass(frozen=True)
class Series:
    """Points of known lifetime cycles, door after door.

    Parameters
    ----------
    offsets : (n+1,) int64
    day : (m,) epoch days, not descending within a door
    cycles : (m,) lifetime cycles
    counted : (m,) bool; the step from the point before was counted, not estimated
    read : (m,) bool; a reading, not the beginning of the record
    """

    offsets: Ints
    day: Floats
    cycles: Floats
    counted: Flags
    read: Flags

    def door(self) -> Ints:
        """Return the door of every point, (m,)."""
        return np.repeat(np.arange(len(self.offsets) - 1), np.diff(self.offsets))

    @cached_property
    def keys(self) -> Floats:
        """Door and day of every point as one ascending number, (m,), worked out once."""
        return door_key(self.door(), self.day)

    def of_doors(self, doors: Ints) -> Series:
        """Return the points of some doors, numbered anew from 0 in the order given."""
        sizes = np.diff(self.offsets)[doors]
        offsets = np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)
        rows = np.arange(offsets[-1]) + np.repeat(self.offsets[doors] - offsets[:-1], sizes)
        return Series(
            offsets, self.day[rows], self.cycles[rows], self.counted[rows], self.read[rows]
        )


@dataclass(frozen=True)
class Increments:
    """Counted steps between neighbouring points.

    Parameters
    ----------
    door : (k,) int64
    start_day, end_day : (k,) epoch days
    cycles : (k,) cycles, not negative
    """

    door: Ints
    start_day: Floats
    end_day: Floats
    cycles: Floats


@dataclass(frozen=True)
class CyclesAt:
    """Lifetime cycles at asked moments.

    Parameters
    ----------
    cycles : (k,) lifetime cycles; nan where the door has no point
    place : (k,) int8, see `Place`
    """

    cycles: Floats
    place: Codes


@dataclass(frozen=True)
class Bracket:
    """Cycles of the points on both sides of asked moments.

    Parameters
    ----------
    lower, upper : (k,) lifetime cycles; nan where there is no point on that side
    """

    lower: Floats
    upper: Floats


def accepted_series(doors: Doors, readings: Readings, judgement: Judgement) -> Series:
    """Return the points of known cycles: the dated beginning of the record, then what was accepted.

    Parameters
    ----------
    doors : Doors, n
    readings : Readings, r
    judgement : Judgement of these readings

    Returns
    -------
    Series

    Notes
    -----
    A beginning that is dated later than the first accepted reading is left out.
    """
    n = len(doors)
    good = ~judgement.held
    door = readings.door()[good]
    day = readings.day[good]
    first = np.full(n, np.inf)
    np.minimum.at(first, door, day)
    dated = np.flatnonzero(doors.record_from_day < first)
    owner = np.concatenate((dated, door))
    # Stable, and the beginnings come first: within a door the rest is in order of time already.
    order = np.argsort(owner, kind="stable")
    begin = len(dated)
    offsets = np.concatenate(([0], np.cumsum(np.bincount(owner, minlength=n)))).astype(np.int64)
    return Series(
        offsets=offsets,
        day=np.concatenate((doors.record_from_day[dated], day))[order],
        cycles=np.concatenate((doors.opening_cycles[dated], judgement.cycles[good]))[order],
        counted=np.concatenate((np.zeros(begin, bool), judgement.counted[good]))[order],
        read=np.concatenate((np.zeros(begin, bool), np.ones(len(day), bool)))[order],
    )


def increments(series: Series) -> Increments:
    """Return the counted steps between neighbouring points of each door.

    Parameters
    ----------
    series : Series

    Returns
    -------
    Increments
    """
    door = series.door()
    rows = np.flatnonzero((door[1:] == door[:-1]) & series.counted[1:]) + 1
    return Increments(
        door=door[rows],
        start_day=series.day[rows - 1],
        end_day=series.day[rows],
        cycles=np.maximum(series.cycles[rows] - series.cycles[rows - 1], 0.0),
    )


def _points_until(series: Series, door: Ints, day: Floats) -> Ints:
    """Return the row of the last point at or before each moment, or one before the door's first."""
    return np.searchsorted(series.keys, door_key(door, day), side="right") - 1


def cycles_at(series: Series, door: Ints, day: Floats) -> CyclesAt:
    """Return lifetime cycles at given moments, interpolated between accepted points.

    Parameters
    ----------
    series : Series of n doors
    door : (k,) int64 in 0..n-1
    day : (k,) finite epoch days

    Returns
    -------
    CyclesAt

    Notes
    -----
    Straight lines between points. Before the first point and after the last one the cycles of that
    point are given and `Place` says so: nothing is carried forward into an exposure window.
    """
    begin, end = series.offsets[door], series.offsets[door + 1]
    cycles = np.full(len(door), np.nan)
    place = np.full(len(door), Place.NO_POINT, np.int8)
    some = np.flatnonzero(end > begin)
    row = _points_until(series, door[some], day[some])
    low = np.clip(row, begin[some], end[some] - 1)
    high = np.clip(row + 1, begin[some], end[some] - 1)
    width = series.day[high] - series.day[low]
    share = np.where(width > 0, (day[some] - series.day[low]) / np.where(width > 0, width, 1), 0)
    step = series.cycles[high] - series.cycles[low]
    cycles[some] = series.cycles[low] + np.clip(share, 0.0, 1.0) * step
    place[some] = np.select(
        [row < begin[some], day[some] > series.day[end[some] - 1]],
        [Place.BEFORE_FIRST, Place.AFTER_LAST],
        Place.INTERPOLATED,
    )
    return CyclesAt(cycles, place)


def bracket_cycles(series: Series, door: Ints, day: Floats) -> Bracket:
    """Return the cycles at the points just before and just after given moments.

    Parameters
    ----------
    series : Series of n doors
    door : (k,) int64 in 0..n-1
    day : (k,) finite epoch days

    Returns
    -------
    Bracket; equal ends where a point falls on the moment
    """
    begin, end = series.offsets[door], series.offsets[door + 1]
    lower = np.full(len(door), np.nan)
    upper = np.full(len(door), np.nan)
    row = _points_until(series, door, day)
    low = np.flatnonzero((row >= begin) & (end > begin))
    lower[low] = series.cycles[row[low]]
    high = np.flatnonzero((row + 1 < end) & (row + 1 >= begin))
    upper[high] = series.cycles[row[high] + 1]
    exact = low[series.day[row[low]] == day[low]]
    upper[exact] = lower[exact]
    return Bracket(lower, upper)


def window_end(
    opening_cycles: Floats, series: Series, event_door: Ints, event_cycles: Floats
) -> Floats:
    """Return where each door's exposure window ends.

    Parameters
    ----------
    opening_cycles : (n,) lifetime cycles at the record's beginning
    series : Series of the same doors
    event_door : (k,) int64, doors of faults, tasks and fitments
    event_cycles : (k,) lifetime cycles of these events; nan is passed over

    Returns
    -------
    (n,) lifetime cycles, never below ``opening_cycles``

    Notes
    -----
    The cycles at the last accepted reading, or at the last event if that is later: an event outside
    every reading is still counted, and the window is widened to hold it.
    """
    end = np.asarray(opening_cycles, float).copy()
    np.maximum.at(end, series.door(), series.cycles)
    known = np.isfinite(event_cycles)
    np.maximum.at(end, event_door[known], event_cycles[known])
    return end
