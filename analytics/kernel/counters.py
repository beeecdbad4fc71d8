"""Which counter a reading was taken from, and what that counter showed at its beginning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Floats, Ints, door_key
from analytics.kernel.exposure import CounterSegments, Doors, Flags, Readings


@dataclass(frozen=True)
class Timeline:
    """Counters of every door in order of time, the undescribed first one included.

    Parameters
    ----------
    offsets : (n+1,) int64
    first_value, last_value, modulus, counts_per_cycle : (s,) counts
    fitted_day : (s,) epoch days; nan where nobody knows
    implicit : (s,) bool, no row describes this counter
    """

    offsets: Ints
    first_value: Floats
    last_value: Floats
    modulus: Floats
    counts_per_cycle: Floats
    fitted_day: Floats
    implicit: Flags


def counter_timeline(doors: Doors, counters: CounterSegments, readings: Readings) -> Timeline:
    """Order each door's counters and add the undescribed one where the record needs it.

    Parameters
    ----------
    doors : Doors, n
    counters : CounterSegments, s rows in any order
    readings : Readings of the same n doors

    Returns
    -------
    Timeline with at least one counter for every door

    Notes
    -----
    A door gets an undescribed first counter when no row was fitted by the time its record (or, if
    that is not dated, its first reading) begins. It is taken to have shown opening cycles times
    counts per cycle, within its digits, at that time.
    """
    n = len(doors)
    earliest = np.full(n, np.inf)
    np.minimum.at(earliest, counters.door, counters.fitted_day)
    first_reading = np.full(n, np.inf)
    some = np.diff(readings.offsets) > 0
    first_reading[some] = readings.day[readings.offsets[:-1][some]]
    dated = np.isfinite(doors.record_from_day)
    begins = np.where(dated, doors.record_from_day, first_reading)
    bare = np.flatnonzero(np.isinf(earliest) | (np.floor(earliest) > begins))
    shown = (doors.opening_cycles * doors.counts_per_cycle)[bare] % doors.modulus[bare]
    door = np.concatenate((bare, counters.door))
    fitted = np.concatenate((doors.record_from_day[bare], counters.fitted_day))
    # An undescribed counter goes before every described one, dated or not.
    order = np.lexsort((np.concatenate((np.full(len(bare), -np.inf), counters.fitted_day)), door))
    offsets = np.concatenate(([0], np.cumsum(np.bincount(door, minlength=n)))).astype(np.int64)

    def ordered(bare_part: Floats, rows_part: Floats) -> Floats:
        return np.concatenate((bare_part, rows_part))[order].astype(float)

    return Timeline(
        offsets=offsets,
        first_value=ordered(shown, counters.first_value),
        last_value=ordered(np.full(len(bare), -1.0), counters.last_value),
        modulus=ordered(doors.modulus[bare], counters.modulus),
        counts_per_cycle=ordered(doors.counts_per_cycle[bare], counters.counts_per_cycle),
        fitted_day=fitted[order],
        implicit=(np.arange(len(door)) < len(bare))[order],
    )


def counter_of_readings(timeline: Timeline, readings: Readings) -> Ints:
    """Tell which counter each reading was taken from.

    Parameters
    ----------
    timeline : Timeline
    readings : Readings, r

    Returns
    -------
    (r,) int64, rows of the timeline, not descending within a door

    Notes
    -----
    The counter fitted latest by that calendar day. On the day of an exchange a reading belongs to
    the new counter unless it lies nearer to what the old one last showed (its last value, or else
    the reading before) than to the new one's first value.
    """
    counter = np.repeat(timeline.offsets[:-1], np.diff(readings.offsets))
    several = np.diff(timeline.offsets) > 1
    rows = np.flatnonzero(np.repeat(several, np.diff(readings.offsets)))
    if len(rows) == 0:
        return counter
    door = readings.door()[rows]
    fitted = np.floor(np.nan_to_num(timeline.fitted_day, nan=-np.inf))
    first = np.zeros(len(fitted), bool)
    first[timeline.offsets[:-1]] = True
    owner = np.repeat(np.arange(len(several)), np.diff(timeline.offsets))
    keys = door_key(owner, np.where(first, -np.inf, fitted))
    day = np.floor(readings.day[rows])
    chosen = np.searchsorted(keys, door_key(door, day), side="right") - 1
    same_day = np.flatnonzero((chosen > timeline.offsets[door]) & (fitted[chosen] == day))
    if len(same_day):
        chosen[same_day] -= _nearer_to_old(timeline, readings, rows[same_day], chosen[same_day])
    counter[rows] = np.maximum.accumulate(chosen)
    return counter


def _nearer_to_old(timeline: Timeline, readings: Readings, row: Ints, chosen: Ints) -> Flags:
    """Tell which readings of an exchange day lie nearer to the old counter's end."""
    value = readings.value[row]
    before = np.maximum(row - 1, 0)
    has_before = readings.door()[before] == readings.door()[row]
    last = timeline.last_value[chosen - 1]
    end = np.where(
        last >= 0, last, np.where(has_before & (row > 0), readings.value[before], np.inf)
    )
    return np.abs(value - end) < np.abs(value - timeline.first_value[chosen])
