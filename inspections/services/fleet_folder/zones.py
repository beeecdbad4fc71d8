"""Turns local moments into UTC and back, whole columns at a time.

A local time that happens twice when clocks go back is its first occurrence; one that never
happens when clocks go forward is as much later as the clocks went forward.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np

from inspections.services.fleet_folder.moments import DAY, Ints, moment_of

CHANGES = int(np.iinfo(np.int64).min)


OffsetAt = Callable[[str, int], int]


def to_utc(local: Ints, zone: str) -> Ints:
    """Moments on a zone's clock, in UTC."""
    return local - _offsets(local, zone, _offset_at_local)


def to_local(utc: Ints, zone: str) -> Ints:
    """Moments in UTC, on a zone's clock."""
    return utc + _offsets(utc, zone, _offset_at_utc)


def _offsets(micros: Ints, zone: str, offset_at: OffsetAt) -> Ints:
    """Offsets, looked up once a day; only on a day that changes them, once a moment."""
    if zone == "UTC" or not len(micros):
        return np.zeros(len(micros), np.int64)
    days = micros // DAY
    first = int(days.min())
    of_day = np.zeros(int(days.max()) - first + 1, np.int64)
    for day in np.flatnonzero(np.bincount(days - first)).tolist():
        of_day[day] = _day_offset(zone, day + first, offset_at)
    offsets = of_day[days - first]
    changing = np.flatnonzero(offsets == CHANGES)
    if len(changing):
        moments, where = np.unique(micros[changing], return_inverse=True)
        exact = np.array([offset_at(zone, each) for each in moments.tolist()], np.int64)
        offsets[changing] = exact[where]
    return offsets


@lru_cache(maxsize=100_000)
def _day_offset(zone: str, day: int, offset_at: OffsetAt) -> int:
    start, end = offset_at(zone, day * DAY), offset_at(zone, (day + 1) * DAY)
    return start if start == end else CHANGES


def _offset_at_local(zone: str, micros: int) -> int:
    clock = moment_of(micros).replace(tzinfo=ZoneInfo(zone))
    return _micros(clock)


def _offset_at_utc(zone: str, micros: int) -> int:
    return _micros(moment_of(micros).astimezone(ZoneInfo(zone)))


def _micros(clock: datetime) -> int:
    """The offset from UTC at a moment of a zone's clock, in microseconds."""
    offset = clock.utcoffset()
    return round(offset.total_seconds() * 1_000_000) if offset else 0
