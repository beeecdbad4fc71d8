"""The work of the weeks ahead: by hand for few doors, and what draws of it say."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from analytics.kernel.rate_filter import FilterSettings, Rate
from analytics.kernel.usage_paths import draw_cycles
from analytics.kernel.workload import Programme, Standing, Workload, weeks_of_work
from analytics.kernel.workload_range import range_of_draws

NOW = 20_000.0
SMALL, LARGE, REVERSE = 0, 1, 2
SETTINGS = FilterSettings(half_life_days=250.0, noise=0.02, dispersion=4.0, clip_sd=np.inf)


def follow(
    *,
    days: tuple[float, float, float] = (np.nan, np.nan, np.nan),
    cycles: tuple[float, float, float] = (np.nan, np.nan, np.nan),
    per_day: float = 40.0,
    done_days_ago: tuple[float, float, float] = (0.0, 0.0, 0.0),
    factor: np.ndarray | None = None,
    asked_for: tuple[bool, bool, bool] = (False, False, False),
    weeks: int = 52,
    weight: float = 1.0,
) -> Workload:
    """One door with three tasks: a small one inside a large one, and one that every visit does."""
    contains = np.eye(3, dtype=bool)
    contains[LARGE] = True
    programme = Programme(
        interval_days=np.array(days),
        minutes=np.array([15.0, 120.0, 5.0]),
        planned=np.ones(3, bool),
        along=np.array([False, False, True]),
        contains=contains,
        visit_minutes=22.0,
    )
    ago = np.array([done_days_ago])
    standing = Standing(
        last_cycles=50_000.0 - per_day * ago,
        last_day=NOW - ago,
        interval_cycles=np.array([cycles]),
        asked_for=np.array([asked_for]),
        pattern=np.zeros(1, np.int64),
    )
    path = 50_000.0 + 7 * per_day * np.arange(weeks + 1)
    return weeks_of_work(
        programme,
        standing,
        np.ones((weeks, 1, 3)) if factor is None else factor,
        path[None, :],
        first_day=NOW,
        group=np.zeros(1, np.int64),
        groups=1,
        weight=np.array([weight]),
    )


def weeks_of(found: Workload, task: int) -> list[int]:
    return np.flatnonzero(found.by_task[task]).tolist()


def test_whichever_comes_first_governs():
    """Due after 5,000 cycles or 90 days, both halved by salt, 40 a day: the calendar, on day 45.

    By cycles it would be day 62.5 (worked out by hand from the rule of the earlier one).
    """
    halved = np.full((52, 1, 3), 0.5)
    both = follow(cycles=(5_000, np.nan, np.nan), days=(90, np.nan, np.nan), factor=halved)
    by_cycles = follow(cycles=(5_000, np.nan, np.nan), factor=halved)
    assert weeks_of(both, SMALL)[0] == 45 // 7
    assert weeks_of(by_cycles, SMALL)[0] == int(62.5) // 7


def test_a_task_comes_again_all_year():
    found = follow(days=(30, np.nan, np.nan))
    # Days 30, 60, ... 360 of a year of 364 days.
    assert weeks_of(found, SMALL) == [30 * k // 7 for k in range(1, 13)]
    assert found.minutes.sum() == pytest.approx(12 * (15 + 22))


def test_a_smaller_task_is_done_with_the_larger_one_at_no_minutes_of_its_own():
    found = follow(days=(90, 360, np.nan), done_days_ago=(0, 0, 0))
    last = 360 // 7
    assert weeks_of(found, LARGE) == [last]
    assert weeks_of(found, SMALL) == [90 // 7, 180 // 7, 270 // 7, last]
    assert found.minutes[0, last] == 120 + 22
    assert found.doings[0, last] == 1


def test_the_larger_task_sets_the_smaller_ones_clock():
    found = follow(days=(90, 100, np.nan), done_days_ago=(0, 60, 0), weeks=20)
    # The large one on day 40 has done the small one, which is next due on day 130.
    assert weeks_of(found, SMALL) == [130 // 7]


def test_every_visit_does_what_goes_along_within_its_own_minutes():
    alone = follow(days=(np.nan, np.nan, 30), weeks=26)
    assert alone.minutes.sum() == pytest.approx(6 * 22)
    beside = follow(days=(21, np.nan, 30), weeks=26)
    assert weeks_of(beside, REVERSE) == []
    assert beside.minutes.sum() == pytest.approx(8 * (15 + 22))


def test_what_is_late_waits_in_the_first_week():
    found = follow(days=(90, np.nan, np.nan), done_days_ago=(120, 0, 0))
    assert found.waiting_minutes.tolist() == [37.0]
    assert weeks_of(found, SMALL)[:2] == [0, 90 // 7]
    none_late = follow(days=(90, np.nan, np.nan), done_days_ago=(87, 0, 0))
    assert none_late.waiting_minutes.tolist() == [0.0]
    assert weeks_of(none_late, SMALL)[0] == 0


def test_a_finding_asks_once():
    found = follow(days=(90, np.nan, np.nan), asked_for=(True, False, False))
    assert weeks_of(found, SMALL)[:2] == [0, 90 // 7]


def test_salt_brings_what_is_due_sooner_in_a_wave():
    """From the week in which roads are salted an interval of 90 days counts 45."""
    factor = np.ones((52, 1, 3))
    factor[10:] = 0.5
    found = follow(days=(90, np.nan, np.nan), done_days_ago=(0, 0, 0), factor=factor)
    assert weeks_of(found, SMALL)[:3] == [10, (70 + 45) // 7, (70 + 90) // 7]


def test_a_door_that_stands_for_others_counts_as_many():
    one, three = (follow(days=(30, np.nan, np.nan), weight=weight) for weight in (1.0, 3.0))
    assert three.minutes.tolist() == (3 * one.minutes).tolist()
    assert three.by_task.tolist() == (3 * one.by_task).tolist()


def test_without_any_interval_nothing_falls_due():
    found = follow()
    assert found.minutes.sum() == found.visits.sum() == 0


def test_a_factor_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0, got 0"):
        follow(days=(30, np.nan, np.nan), factor=np.zeros((52, 1, 3)))


def paths(*, variance: float, spread: float, season: float, count: int = 400) -> np.ndarray:
    return draw_cycles(
        np.full(count, 10_000.0),
        np.zeros(count),
        Rate(np.full(count, np.log(40.0)), np.full(count, variance)),
        Rate(np.full(count, np.log(40.0)), np.full(count, spread)),
        SETTINGS,
        week_days=np.full((count, 52), 7.0),
        season_sd=np.full(count, season),
        draws=20,
        rng=np.random.default_rng(3),
    )


def test_paths_run_on_at_the_door_s_rate_and_never_back():
    found = paths(variance=0.0, spread=0.0, season=0.0)
    assert found.shape == (20, 400, 53)
    assert (np.diff(found, axis=2) >= 0).all()
    ran = found[:, :, -1] - found[:, :, 0]
    assert ran.mean() == pytest.approx(52 * 7 * 40, rel=0.005)
    # Counting noise alone: variance of a sum is the dispersion times its mean.
    assert ran.var() == pytest.approx(4.0 * 52 * 7 * 40, rel=0.05)


def test_paths_settle_at_the_spread_of_similar_doors():
    """Ornstein-Uhlenbeck in weekly steps: the log rate's variance stays what it was."""
    found = paths(variance=0.1, spread=0.1, season=0.0)
    last = np.log(np.diff(found, axis=2)[:, :, -1])
    noise = 4.0 / (7 * 40)
    assert last.var() == pytest.approx(0.1 + noise, rel=0.1)


def test_the_season_moves_all_doors_together():
    found = paths(variance=0.0, spread=0.0, season=0.07)
    yearly = (found[:, :, -1] - found[:, :, 0]).sum(axis=1)
    alone = paths(variance=0.0, spread=0.0, season=0.0)
    assert yearly.std() > 5 * (alone[:, :, -1] - alone[:, :, 0]).sum(axis=1).std()


def test_the_range_is_that_of_eight_draws_in_ten():
    draws = np.random.default_rng(1).normal(1_000.0, 20.0, (20_000, 1))
    found = range_of_draws(draws)
    assert found.lower[0] == pytest.approx(norm.ppf(0.1, 1_000, 20), abs=1)
    assert found.upper[0] == pytest.approx(norm.ppf(0.9, 1_000, 20), abs=1)


def test_what_no_draw_doubts_has_no_range():
    found = range_of_draws(np.array([[0.0, 50.0], [0.0, 50.0]]))
    assert found.lower.tolist() == found.mean.tolist() == found.upper.tolist() == [0.0, 50.0]
    with pytest.raises(ValueError, match="at least two draws, got 1"):
        range_of_draws(np.zeros((1, 3)))
