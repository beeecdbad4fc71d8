"""Weeks of work waiting, and the hours that people have."""

import numpy as np
import pytest

from analytics.kernel.backlog import backlog_weeks, net_hours


def test_hours_that_are_left_after_absence_and_other_work():
    assert net_hours([4, 0], 40, absent=0.25, indirect=0.5).tolist() == [60.0, 0.0]


def test_work_without_people_never_ends_and_no_work_takes_no_time():
    assert backlog_weeks([10, 0, 0], [0, 0, 8]).tolist() == [np.inf, 0.0, 0.0]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: net_hours(4, 40, absent=1.2), "absent must be a share from 0 to 1, got 1.2"),
        (lambda: net_hours(4, 40, indirect=-0.1), "indirect must be a share from 0 to 1"),
        (lambda: net_hours(-4, 40), "people must not be negative, got -4"),
        (lambda: backlog_weeks(-1, 40), "open_hours must not be negative, got -1"),
        (lambda: backlog_weeks(1, -40), "net_hours_per_week must not be negative, got -40"),
    ],
)
def test_figures_that_cannot_be(call, message):
    with pytest.raises(ValueError, match=message):
        call()
