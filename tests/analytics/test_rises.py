"""What fails more often than before: found in made groups, and not found where nothing changed."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.assessment.periods import MOST_PERIODS, PERIOD_DAYS, period_edges
from analytics.assessment.rises import WATCHED_PERIODS, watch

BEFORE = MOST_PERIODS - WATCHED_PERIODS
RAN = np.full(MOST_PERIODS, 50_000.0)


def named(made: np.ndarray, ran: np.ndarray = RAN) -> float:
    """Share of made groups in which a rise is told."""
    return float(np.mean([watch(each, ran, 0.0).rise is not None for each in made]))


@pytest.mark.parametrize("mean", [2.0, 4.0, 15.0, 60.0])
def test_steady_groups_are_named_about_once_in_fifty_years(mean: float) -> None:
    made = np.random.default_rng(11).poisson(mean, (600, MOST_PERIODS)).astype(float)
    assert named(made) <= 0.03


@pytest.mark.parametrize("mean", [4.0, 15.0])
def test_repairs_in_clusters_are_named_at_most_twice_as_often(mean: float) -> None:
    made = np.random.default_rng(12).negative_binomial(mean, 0.5, (600, MOST_PERIODS))
    assert named(made.astype(float)) <= 0.05


@pytest.mark.parametrize(("mean", "least"), [(4.0, 0.75), (15.0, 0.98)])
def test_a_doubling_half_a_year_ago_is_told_with_its_week(mean: float, least: float) -> None:
    made = np.random.default_rng(13).poisson(mean, (300, MOST_PERIODS)).astype(float)
    made[:, -7:] = np.random.default_rng(14).poisson(2 * mean, (300, 7))
    assert named(made) >= least
    told = [watch(each, RAN, 0.0).rise for each in made]
    since = np.array([rise.since_day / PERIOD_DAYS for rise in told if rise])
    assert abs(np.median(since) - (MOST_PERIODS - 7)) <= 1
    foreseen = [rise.foreseen / (7 * mean) for rise in told if rise]
    assert 0.7 < np.median(foreseen) < 1.4


def test_more_use_is_no_rise() -> None:
    ran = RAN.copy()
    ran[-7:] *= 2
    made = np.random.default_rng(15).poisson(15 * ran / RAN[0], (300, MOST_PERIODS))
    assert named(made.astype(float), ran) <= 0.03


def test_a_rise_that_has_ended_is_not_told() -> None:
    made = np.full(MOST_PERIODS, 15.0)
    made[BEFORE : BEFORE + 2] = 40
    assert watch(made[: BEFORE + 2].copy(), RAN[: BEFORE + 2], 0.0).is_watched
    made[BEFORE + 2 :] = 5
    found = watch(made, RAN, 0.0)
    assert found.is_watched
    assert found.rise is None


@pytest.mark.parametrize(
    ("failures", "ran"),
    [
        (np.full(MOST_PERIODS, 0.5), RAN),
        (np.full(MOST_PERIODS, 9.0), np.zeros(MOST_PERIODS)),
        (np.full(MOST_PERIODS, 9.0), np.where(np.arange(MOST_PERIODS) < 20, 0.0, RAN)),
        (np.full(MOST_PERIODS, 9.0), np.where(np.arange(MOST_PERIODS) == 30, 0.0, RAN)),
        (np.zeros(0), np.zeros(0)),
    ],
    ids=["few failures", "no cycles", "short record", "a period without cycles", "nothing"],
)
def test_too_little_record_is_not_watched(failures: np.ndarray, ran: np.ndarray) -> None:
    assert not watch(failures, ran, 0.0).is_watched


def test_periods_end_on_the_last_monday_that_has_come() -> None:
    edges = period_edges(20_783.4)  # a Thursday, 26 November 2026
    assert edges[-1] == 20_780  # Monday, 23 November 2026
    assert len(edges) == MOST_PERIODS + 1
    assert (np.diff(edges) == PERIOD_DAYS).all()
    assert period_edges(20_780.0)[-1] == 20_780
