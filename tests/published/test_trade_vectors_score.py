"""Worked figures of the trade for keeping score: the window rule, lateness, and what came back.

Worked out by hand from the rules named beside them; no published table stands behind them.
"""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.due import TimeKept
from analytics.kernel.effective_days import LayUps
from analytics.kernel.keeping_time import Doings, lateness_percent, time_kept
from analytics.kernel.scoring import came_back, days_within, open_at


def done_again(
    *,
    after_days: float,
    after_cycles: float = np.nan,
    interval_days: float = 90.0,
    interval_cycles: float = np.nan,
    width: float = 0.1,
):
    return time_kept(
        Doings(
            key=np.array([7, 7]),
            day=np.array([100.0, 100.0 + after_days]),
            cycles=np.array([1_000.0, 1_000.0 + after_cycles]),
            interval_days=np.full(2, interval_days),
            interval_cycles=np.full(2, interval_cycles),
            before=np.full(2, width),
            after=np.full(2, width),
        )
    )


@pytest.mark.parametrize(
    ("days", "kept"),
    [
        (81, TimeKept.ON_TIME),
        (99, TimeKept.ON_TIME),
        (100, TimeKept.LATE),
        (80, TimeKept.EARLY),
    ],
)
def test_ninety_days_and_ten_per_cent(days, kept):
    """In time from day 81 to day 99; 100 is late, 80 is early: done, but not in time."""
    assert done_again(after_days=days).kept.tolist() == [kept]


def test_a_narrower_window_is_a_setting():
    """30 days and 5 % either way: a day and a half."""
    for days, kept in ((28.5, TimeKept.ON_TIME), (31.5, TimeKept.ON_TIME), (31.6, TimeKept.LATE)):
        found = done_again(after_days=days, interval_days=30.0, width=0.05)
        assert found.kept.tolist() == [kept]


def test_the_trigger_that_governed_decides():
    """60 of 90 days, but 5,900 of 5,000 cycles: late by cycles, missed when 5,500 were reached."""
    found = done_again(after_days=60, after_cycles=5_900, interval_cycles=5_000)
    assert found.kept.tolist() == [TimeKept.LATE]
    assert found.share.tolist() == pytest.approx([1.18])
    assert found.due_day.tolist() == pytest.approx([100 + 60 * 5_000 / 5_900])
    assert found.counted_day.tolist() == pytest.approx([100 + 60 * 5_500 / 5_900])


def test_the_first_doing_and_twice_on_one_day_say_nothing():
    days = np.array([0.0, 90.0, 90.0, 0.0])
    width = np.full(4, 0.1)
    found = time_kept(
        Doings(
            np.array([1, 1, 1, 2]),
            days,
            np.full(4, np.nan),
            np.full(4, 90.0),
            np.full(4, np.nan),
            width,
            width,
        )
    )
    assert found.row.tolist() == [1]


def test_lateness_is_a_share_of_the_interval():
    """A 30-day task 6 days late 120 %; a 365-day one 102 %; 5,900 of 5,000 cycles 118 %."""
    found = lateness_percent(np.array([30.0, 365.0, 5_000.0]), np.array([36.0, 371.0, 5_900.0]))
    assert found.round().tolist() == [120, 102, 118]


def test_a_repair_that_came_back():
    """Within 30 days, or within 2,000 cycles however long that took; another component is none."""
    door, component = np.array([1, 1, 1, 1, 2]), np.array([5, 5, 5, 6, 5])
    day = np.array([0.0, 30.0, 130.0, 131.0, 1.0])
    cycles = np.array([0.0, 4_000.0, 5_999.0, 6_000.0, 10.0])
    assert came_back(door, component, day, cycles).tolist() == [False, True, True, False, False]
    apart = came_back(door, component, day, cycles + np.array([0, 0, 2, 0, 0]))
    assert apart.tolist() == [False, True, False, False, False]


def test_spells_that_overlap_count_once():
    spells = LayUps(np.array([0, 0, 1]), np.array([2.0, 5.0, 9.0]), np.array([6.0, 8.0, np.nan]))
    found = days_within(spells, np.array([0.0, 4.0, 10.0]), 2)
    assert found.tolist() == [[2.0, 4.0], [0.0, 1.0]]


def test_open_spells_at_a_moment():
    found = open_at(
        np.array([1.0, 5.0, np.nan]), np.array([5.0, np.inf, np.inf]), np.array([0.0, 1.0, 5.0])
    )
    assert found.tolist() == [[False, True, False], [False, False, True], [False, False, False]]
