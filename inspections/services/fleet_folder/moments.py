"""Reads and writes whole columns of moments; microseconds since 1970 in between."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]
Moments = NDArray[np.datetime64]

UNKNOWN = np.iinfo(np.int64).min
SECOND = 1_000_000
MINUTE = 60 * SECOND
DAY = 24 * 60 * MINUTE
FIRST_YEAR, LAST_YEAR = 1900, 2199
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

# Length of the text: whether it has a time, seconds, and how long its offset is.
SHAPES = {
    10: (False, False, 0),
    16: (True, False, 0),
    17: (True, False, 1),
    19: (True, True, 0),
    20: (True, True, 1),
    22: (True, False, 6),
    25: (True, True, 6),
}
ANY_SHAPE = re.compile(
    r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?(?:Z|[+-]\d\d(?::?\d\d)?)?)?"
)


@dataclass(frozen=True)
class MomentColumn:
    """Moments of one column; without an offset they are on a clock yet to be named."""

    microseconds: Ints
    has_offset: Mask
    is_empty: Mask
    is_wrong: Mask


@dataclass(frozen=True)
class _Read:
    microseconds: Ints
    has_offset: Mask
    is_right: Mask


def parse_moments(cells: Sequence[str]) -> MomentColumn:
    """Read ISO 8601 dates and moments; a bare date is the start of that day."""
    lengths = np.fromiter(map(len, cells), np.int64, len(cells))
    text = np.array([cell[:40] for cell in cells] if lengths.max(initial=0) > 40 else cells, "U")
    column = MomentColumn(
        microseconds=np.full(len(cells), UNKNOWN),
        has_offset=np.zeros(len(cells), bool),
        is_empty=lengths == 0,
        is_wrong=lengths > 0,
    )
    for length in np.unique(lengths).tolist():
        if length in SHAPES:
            at = np.flatnonzero(lengths == length)
            read = _read_shape(text[at].astype(f"U{length}"), length)
            column.microseconds[at] = np.where(read.is_right, read.microseconds, UNKNOWN)
            column.has_offset[at] = read.has_offset
            column.is_wrong[at] = ~read.is_right
    for row in np.flatnonzero(column.is_wrong).tolist():
        _read_one(column, row, cells[row].strip())
    return column


def _read_shape(text: NDArray[np.str_], length: int) -> _Read:
    """Read texts of one length by their columns of characters."""
    has_time, has_seconds, offset_length = SHAPES[length]
    signs = np.ascontiguousarray(text).view(np.uint32).reshape(len(text), length)
    digits = signs.astype(np.int64) - ord("0")
    right = (signs[:, 4] == ord("-")) & (signs[:, 7] == ord("-"))
    days, is_day = _days(digits)
    right &= is_day
    micros = days * DAY
    end = 10
    if has_time:
        hour, minute = _pair(digits, 11), _pair(digits, 14)
        right &= np.isin(signs[:, 10], (ord("T"), ord(" "))) & (signs[:, 13] == ord(":"))
        right &= _within(hour, 0, 23) & _within(minute, 0, 59)
        micros += hour * 60 * MINUTE + minute * MINUTE
        end = 16
    if has_seconds:
        second = _pair(digits, 17)
        right &= (signs[:, 16] == ord(":")) & _within(second, 0, 59)
        micros += second * SECOND
        end = 19
    if offset_length == 1:
        right &= signs[:, end] == ord("Z")
    if offset_length == 6:
        hours, minutes = _pair(digits, end + 1), _pair(digits, end + 4)
        right &= np.isin(signs[:, end], (ord("+"), ord("-"))) & (signs[:, end + 3] == ord(":"))
        right &= _within(hours, 0, 23) & _within(minutes, 0, 59)
        ahead = np.where(signs[:, end] == ord("-"), -1, 1)
        micros -= ahead * (hours * 60 + minutes) * MINUTE
    return _Read(micros, np.full(len(text), offset_length > 0), right)


def _days(digits: Ints) -> tuple[Ints, Mask]:
    """Days since 1970 of the first ten characters, and whether there is such a day."""
    year = _pair(digits, 0) * 100 + _pair(digits, 2)
    month, day = _pair(digits, 5), _pair(digits, 8)
    right = (_pair(digits, 0) >= 0) & (_pair(digits, 2) >= 0)
    right &= _within(year, FIRST_YEAR, LAST_YEAR) & _within(month, 1, 12) & (day >= 1)
    months = np.where(right, (year - 1970) * 12 + month - 1, 0).astype("datetime64[M]")
    first = months.astype("datetime64[D]").astype(np.int64)
    next_first = (months + 1).astype("datetime64[D]").astype(np.int64)
    right &= day <= next_first - first
    return first + day - 1, right


def _pair(digits: Ints, at: int) -> Ints:
    """The number of two digits, or a negative one where they are none."""
    tens, ones = digits[:, at], digits[:, at + 1]
    return np.where(_within(tens, 0, 9) & _within(ones, 0, 9), tens * 10 + ones, -1)


def _within(values: Ints, least: int, most: int) -> Mask:
    return (values >= least) & (values <= most)


def _read_one(column: MomentColumn, row: int, text: str) -> None:
    """Read what has no common shape: blanks around it, parts of seconds, a short offset."""
    if not text:
        column.is_empty[row], column.is_wrong[row] = True, False
        return
    if not ANY_SHAPE.fullmatch(text):
        return
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return
    if FIRST_YEAR <= moment.year <= LAST_YEAR:
        column.has_offset[row] = moment.tzinfo is not None
        in_zone = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        column.microseconds[row] = microseconds(in_zone)
        column.is_wrong[row] = False


def microseconds(moment: datetime) -> int:
    """A moment as microseconds since 1970."""
    return (moment - EPOCH) // timedelta(microseconds=1)


def moment_of(micros: int) -> datetime:
    """The moment that lies so many microseconds after 1970."""
    return EPOCH + timedelta(microseconds=micros)


def iso_texts(micros: Ints) -> list[str]:
    """Moments to the minute, or as much finer as they are; unknown ones are empty."""
    known = np.where(micros == UNKNOWN, 0, micros)
    moments: Moments = known.view("datetime64[us]")
    texts = np.datetime_as_string(moments, unit="m").astype("U26")
    finer, finest = np.flatnonzero(known % MINUTE), np.flatnonzero(known % SECOND)
    texts[finer] = np.datetime_as_string(moments[finer], unit="s")
    texts[finest] = np.datetime_as_string(moments[finest], unit="us")
    texts[micros == UNKNOWN] = ""
    return texts.tolist()


def database_texts(micros: Ints, zone: str) -> list[str]:
    """Moments in UTC as the databases' own text: a blank between day and time, then the zone."""
    moments: Moments = micros.view("datetime64[us]")
    texts = np.datetime_as_string(moments, unit="s").astype("U26")
    finest = np.flatnonzero(micros % SECOND)
    texts[finest] = np.datetime_as_string(moments[finest], unit="us")
    letters = texts.view(np.uint32).reshape(len(texts), 26)
    letters[:, 10] = ord(" ")
    return [text + zone for text in texts.tolist()] if zone else texts.tolist()
