"""Announced changes as arithmetic: against sums by the day, and at their limits."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.announced import (
    LEARNED_DAYS,
    UseSteps,
    campaign_demand,
    learned_share,
    present_days,
)


def steps(*changes: tuple[float, float, float]) -> UseSteps:
    columns = np.array(changes, dtype=float).reshape(-1, 3).T
    return UseSteps(columns[0], columns[1], columns[2])


def summed_by_the_day(days: int, changes: UseSteps) -> float:
    """The same, day by day in plain Python; for changes that begin and end at midnight."""
    total = 0.0
    for day in range(days):
        factor = 1.0
        for first, end, times in zip(
            changes.from_day, changes.until_day, changes.factor, strict=True
        ):
            if first <= day < end:
                factor *= times
        total += factor
    return total


def test_without_a_change_a_day_is_a_day() -> None:
    assert present_days([0.0, 3.5, 400.0], steps()).tolist() == [0.0, 3.5, 400.0]


def test_days_are_summed_over_changes_that_overlap() -> None:
    changes = steps((5, 40, 1.5), (20, np.inf, 0.4), (60, 61, 5.0))
    found = present_days(np.arange(0.0, 100.0), changes)
    expected = [summed_by_the_day(day, changes) for day in range(100)]
    assert found == pytest.approx(expected)


def test_a_change_that_has_long_begun_is_in_the_readings_and_adds_nothing() -> None:
    assert present_days(30.0, steps((-LEARNED_DAYS, np.inf, 1.5))) == pytest.approx(30.0)


def test_half_way_through_learning_the_square_root_is_left() -> None:
    found = present_days(10.0, steps((-LEARNED_DAYS / 2, np.inf, 4.0)))
    assert found == pytest.approx(10.0 * 2.0)


def test_the_end_of_a_change_that_is_well_known_takes_its_use_away_again() -> None:
    changes = steps((-200.0, 10.0, 2.0))
    assert present_days([10.0, 20.0], changes).tolist() == pytest.approx([10.0, 15.0])


def test_what_was_learned_fades_after_the_end() -> None:
    ends = [0.0, -LEARNED_DAYS / 2, -LEARNED_DAYS, -300.0]
    found = learned_share(steps(*((-400.0, end, 2.0) for end in ends)))
    assert found.tolist() == pytest.approx([1.0, 0.5, 0.0, 0.0])
    assert learned_share(steps((-20.0, -10.0, 2.0))).tolist() == pytest.approx([0.0])


def test_a_factor_of_nothing_and_a_change_that_ends_before_it_begins_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0, got 0"):
        present_days(1.0, steps((0, 5, 0.0)))
    with pytest.raises(ValueError, match="ends on the day it begins"):
        present_days(1.0, steps((5, 0, 1.0)))


def test_a_campaign_takes_its_pieces_evenly() -> None:
    found = campaign_demand([0, 30, 60, 90, 500], from_day=30, until_day=90, doors=12, pieces=2)
    assert found.mean.tolist() == pytest.approx([0, 0, 12, 24, 24])
    assert found.variance.tolist() == pytest.approx([0, 0, 12 * 4 * 0.25, 0, 0])


def test_a_campaign_under_way_has_only_its_rest() -> None:
    found = campaign_demand([10.0, 50.0], from_day=-50, until_day=50, doors=100, pieces=1)
    assert found.mean.tolist() == pytest.approx([10.0, 50.0])
    over = campaign_demand([10.0], from_day=-50, until_day=-10, doors=100, pieces=1)
    assert (over.mean.tolist(), over.variance.tolist()) == ([0.0], [0.0])


def test_pieces_of_a_campaign_scatter_like_doors_drawn_by_lot() -> None:
    rng = np.random.default_rng(5)
    nights = rng.uniform(0, 40, size=(20_000, 9))
    counted = 3 * (nights < 10).sum(axis=1)
    found = campaign_demand(10.0, from_day=0, until_day=40, doors=9, pieces=3)
    assert float(found.mean) == pytest.approx(counted.mean(), rel=0.02)
    assert float(found.variance) == pytest.approx(counted.var(), rel=0.04)


def test_a_campaign_without_time_is_refused() -> None:
    with pytest.raises(ValueError, match="ends after it begins, got 5 to 5"):
        campaign_demand(1.0, from_day=5, until_day=5, doors=1, pieces=1)
