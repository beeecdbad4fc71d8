import numpy as np
import pytest

from analytics.kernel.against_age import compare_with_age
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import WeibullDraws

LIFE = WeibullDraws(np.array([2.0]), np.array([40_000.0]))


def made(hazard: float, seed: int, count: int = 400) -> Lifetimes:
    """Lives of shape 2 that fail so many times as often as LIFE says, some seen from an age on."""
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(count) < 0.3, rng.uniform(0, 20_000, count), 0.0)
    spent = (entry / 40_000) ** 2 * hazard + rng.exponential(size=count)
    age = 40_000 * np.sqrt(spent / hazard)
    seen = entry + rng.uniform(5_000, 30_000, count)
    return Lifetimes.from_ages(np.minimum(age, seen), age <= seen, entry)


@pytest.mark.parametrize("seed", range(4))
def test_twice_as_often_is_told_and_as_often_is_not(seed):
    twice, same = (compare_with_age(made(hazard, seed), LIFE) for hazard in (2.0, 1.0))
    assert twice.failures / twice.expected == pytest.approx(2.0, rel=0.2)
    assert twice.lower <= 2.0
    assert twice.alert
    assert same.failures / same.expected == pytest.approx(1.0, rel=0.2)
    assert not same.alert


def test_few_failures_and_an_uncertain_life_raise_no_alarm():
    few = Lifetimes.from_ages([20_000.0] * 3, [True] * 3)
    assert not compare_with_age(few, LIFE).alert
    unsure = WeibullDraws(np.full(8, 2.0), 40_000 * np.geomspace(0.4, 2.5, 8))
    sure, doubtful = (compare_with_age(made(1.6, 9, 120), each) for each in (LIFE, unsure))
    width = [each.upper - each.lower for each in (sure, doubtful)]
    assert width[1] > width[0]


def test_a_failure_between_two_readings_counts_to_the_middle():
    between = Lifetimes.from_intervals([10_000.0], [30_000.0], [0.0])
    found = compare_with_age(between, LIFE)
    assert (found.failures, found.expected) == (1.0, pytest.approx(0.25))


def test_nothing_expected_says_nothing():
    unseen = Lifetimes.from_ages([0.0], [False])
    found = compare_with_age(unseen, LIFE)
    assert (found.failures, found.expected, found.alert) == (0.0, 0.0, False)
