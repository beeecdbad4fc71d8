"""Whether preventive tasks were done inside their windows, and when those they missed closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.due import TimeKept
from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Codes

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Doings:
    """Tasks done again, in the order of `key`, then of time.

    Parameters
    ----------
    key : (k,) int64, one number for each door and task
    day : (k,) epoch days
    cycles : (k,) lifetime cycles; nan unknown
    interval_days, interval_cycles : (k,) as they held when the task was due, severity applied;
        nan none
    before, after : (k,) width of the window on either side, shares of the interval
    """

    key: Ints
    day: Floats
    cycles: Floats
    interval_days: Floats
    interval_cycles: Floats
    before: Floats
    after: Floats


@dataclass(frozen=True)
class Kept:
    """How each doing that followed another one kept its time.

    Parameters
    ----------
    row : (m,) int64, its row among the doings
    kept : (m,) int8, see `due.TimeKept`
    share : (m,) of the interval that had passed, the larger of days and cycles
    due_day : (m,) epoch day on which it fell due
    counted_day : (m,) the day it was done, or the day on which its window closed if that was
        earlier: a late doing is a miss of that day, and of no other
    """

    row: Ints
    kept: Codes
    share: Floats
    due_day: Floats
    counted_day: Floats


def time_kept(doings: Doings) -> Kept:
    """Compare each doing with the window around the moment it was due.

    Parameters
    ----------
    doings : Doings

    Returns
    -------
    Kept
        Without the first doing of each key, nor those on the day of the one before, nor those
        without an interval.

    Notes
    -----
    The share of the interval is the larger of those by days and by cycles, so that the trigger
    that governed decides. Both run evenly between two doings, so the window closed when the
    larger share reached 1 + after. Counting an early doing as done, but not as on time, is a
    setting of the reader: the codes keep the two apart.

    Examples
    --------
    >>> from math import nan
    >>> def done_after(days):
    ...     width = np.full(2, 0.1)
    ...     found = time_kept(Doings(np.zeros(2, np.int64), np.array([0.0, days]),
    ...         np.full(2, nan), np.full(2, 90.0), np.full(2, nan), width, width))
    ...     return found.kept.tolist(), found.counted_day.round(6).tolist()
    >>> done_after(81), done_after(99), done_after(100), done_after(80)
    (([1], [81.0]), ([1], [99.0]), ([2], [99.0]), ([0], [80.0]))
    """
    same = np.zeros(len(doings.key), dtype=bool)
    same[1:] = doings.key[1:] == doings.key[:-1]
    row = np.flatnonzero(same)
    gap = doings.day[row] - doings.day[row - 1]
    cycles = doings.cycles[row] - doings.cycles[row - 1]
    share = np.fmax(gap / doings.interval_days[row], cycles / doings.interval_cycles[row])
    told = (gap > 0) & (share > 0)
    row, gap, share = row[told], gap[told], share[told]
    before, after = doings.before[row], doings.after[row]
    late = share > 1 + after + _ROUNDING
    kept = np.select(
        [share < 1 - before - _ROUNDING, late], [TimeKept.EARLY, TimeKept.LATE], TimeKept.ON_TIME
    ).astype(np.int8)
    begun = doings.day[row - 1]
    closed = begun + gap * (1 + after) / share
    return Kept(row, kept, share, begun + gap / share, np.where(late, closed, doings.day[row]))


def lateness_percent(interval: Floats, since_done: Floats) -> Floats:
    """Tell how late tasks are in per cent of their interval, so that short ones rank fairly.

    Parameters
    ----------
    interval : (k,) days or cycles, above 0
    since_done : (k,) days or cycles since the task was last done

    Returns
    -------
    (k,) 100 = due now

    Notes
    -----
    Common practice, no source: 6 days over 30 days weigh more than 6 days over a year.

    Examples
    --------
    >>> lateness_percent(np.array([30.0, 5000.0]), np.array([36.0, 5900.0])).tolist()
    [120.0, 118.0]
    """
    return 100.0 * since_done / interval
