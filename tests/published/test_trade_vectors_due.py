"""Worked figures of the trade for due dates and counter readings.

The figures were worked out by hand from the rules named beside them (ordinary arithmetic of
intervals, counters and digits); no published table stands behind them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.kernel.causes import Cause, intended_values
from analytics.kernel.due import DueState, GovernedBy, Tasks, TimeKept, due
from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import CounterSegments, Doors, Readings, Series
from analytics.kernel.keeping_time import Doings, time_kept
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_filter import Rate
from analytics.kernel.rate_history import RateHistory
from analytics.kernel.usage import usage_at

NAN = np.nan


def usage_of(rate, cycles, day, as_of):
    series = Series(
        np.array([0, 1]), np.array([day]), np.array([cycles]), np.zeros(1, bool), np.ones(1, bool)
    )
    history = RateHistory(
        np.array([math.log(rate)]), np.array([0.02]), np.array([5]),
        Calendar.plain(1).elapsed(np.array([0]), np.array([day])),
    )  # fmt: skip
    prior = Rate(history.log_rate, history.variance)
    return usage_at(as_of, series, history, Calendar.plain(1), prior=prior)


def due_of(as_of, usage, *, cycles, day, interval_cycles=NAN, interval_days=NAN):
    tasks = Tasks(
        np.array([0]),
        *(np.array([float(v)]) for v in (cycles, day, interval_cycles, interval_days, NAN)),
    )
    return due(as_of, tasks, usage, Calendar.plain(1))


def test_severity_halves_both_limits_and_the_calendar_governs():
    """Done at 12,000 on day 0; 5,000 cycles or 90 days, times 0.5 for salt; 40 cycles a day."""
    found = due_of(
        0.0, usage_of(40.0, 12_000.0, 0.0, 0.0), cycles=12_000, day=0,
        interval_cycles=5_000 * 0.5, interval_days=90 * 0.5,
    )  # fmt: skip
    assert found.due_cycles[0] == 14_500
    assert found.due_day_by_cycles[0] == pytest.approx(62.5)
    assert found.due_day_by_calendar[0] == 45
    assert found.due_day[0] == 45
    assert found.governed_by[0] == GovernedBy.DAYS


def test_window_of_a_tenth_around_ninety_days():
    """81 to 99 days is on time, 100 late, 80 early."""
    key, width = np.repeat(np.arange(4), 2), np.full(8, 0.1)
    done = np.array([0.0, 80.0, 0.0, 81.0, 0.0, 99.0, 0.0, 100.0])
    found = time_kept(
        Doings(key, done, np.full(8, NAN), np.full(8, 90.0), np.full(8, NAN), width, width)
    )
    assert found.kept.tolist() == [
        TimeKept.EARLY, TimeKept.ON_TIME, TimeKept.ON_TIME, TimeKept.LATE
    ]  # fmt: skip


def test_share_used_of_late_tasks():
    """A 30-day task 6 days late stands at 120 %; a 5,000-cycle task at 5,900 at 118 %."""
    by_days = due_of(36.0, usage_of(40.0, 0.0, 0.0, 36.0), cycles=0, day=0, interval_days=30)
    assert by_days.share_used[0] == pytest.approx(1.20)
    assert by_days.state[0] == DueState.LATE
    by_cycles = due_of(
        0.0, usage_of(40.0, 5_900.0, 0.0, 0.0), cycles=0, day=0, interval_cycles=5_000
    )
    assert by_cycles.share_used[0] == pytest.approx(1.18)


def readings_of(values, days, *, opening, rate):
    doors = Doors(*(np.array([float(v)]) for v in (opening, days[0] - 10.0, 1e5, 1.0)))
    readings = Readings(
        np.array([0, len(values)]), np.array(days, float), np.array(values, float),
        np.zeros(len(values), np.int8),
    )  # fmt: skip
    prior = Rate(np.log([rate]), np.array([0.04]))
    return judge(doors, CounterSegments.none(), readings, Calendar.plain(1), prior)


def test_rollover_of_a_five_digit_counter():
    """99,640, then 00,210 after 7 days at 80 a day: +570 where 560 was expected, accepted."""
    found = readings_of([99_640, 210], [100.0, 107.0], opening=98_840, rate=80.0)
    assert not found.held.any()
    assert found.cause[1] == Cause.ROLLOVER
    assert found.cycles[1] - found.cycles[0] == 570
    assert found.mean[1] == pytest.approx(560, rel=0.03)


def test_swapped_digits_are_suggested():
    """About 41,872 expected, 48,172 entered: digits 2 and 3 swapped; 6,300 is divisible by 9."""
    values = [*range(33_072, 41_500, 800), 48_172]
    days = [20.0 * k for k in range(len(values))]
    found = readings_of(values, days, opening=32_672, rate=40.0)
    assert found.held.tolist() == [False] * (len(values) - 1) + [True]
    assert found.expected_value[-1] == pytest.approx(41_872, abs=300)
    assert found.cause[-1] == Cause.DIGITS_SWAPPED
    assert found.suggested_value[-1] == 41_872
    assert found.suggested_probability[-1] > 0.9
    assert (48_172 - 41_872) % 9 == 0
    assert 41_872 in intended_values(np.array([48_172.0]), np.array([1e5]))[0, :4]
