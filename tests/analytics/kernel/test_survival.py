import numpy as np
import pytest

from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.survival import product_limit
from analytics.kernel.weibull import survival_probability
from tests.analytics.kernel.life_samples import watched_lives


def slow_curve(lives: Lifetimes) -> dict[float, tuple[float, float]]:
    """Survival and Greenwood variance of its logarithm, age by age and life by life."""
    rows = list(zip(lives.lo_cycles, lives.suspended, lives.entry_cycles, strict=True))
    survival, spread, found = 1.0, 0.0, {}
    for age in sorted({end for end, suspended, _ in rows if not suspended}):
        at_risk = sum(entry < age <= end for end, _, entry in rows)
        failed = sum(end == age and not suspended for end, suspended, _ in rows)
        survival *= 1 - failed / at_risk
        spread += failed / (at_risk * (at_risk - failed)) if at_risk > failed else 0.0
        found[age] = (survival, spread)
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_curve_is_that_of_a_plain_count(seed):
    rounded = watched_lives(seed, 80)
    lives = Lifetimes.from_ages(
        np.ceil(rounded.lo_cycles / 3000) * 3000,
        rounded.exact,
        np.floor(rounded.entry_cycles / 3000) * 3000,
    )
    curve, slow = product_limit(lives), slow_curve(lives)
    assert curve.at_cycles.tolist() == list(slow)
    assert curve.survival == pytest.approx([value for value, _ in slow.values()])
    error = [value * np.sqrt(spread) for value, spread in slow.values()]
    assert curve.standard_error == pytest.approx(error)


def test_weights_stand_for_equal_lives():
    ages, failed = [4, 4, 4, 6, 9], [True, True, False, True, False]
    joined = Lifetimes.from_ages([4, 4, 6, 9], [True, False, True, False], weights=[2, 1, 1, 1])
    one, other = product_limit(Lifetimes.from_ages(ages, failed)), product_limit(joined)
    assert one.survival.tolist() == other.survival.tolist()
    assert one.at_risk.tolist() == other.at_risk.tolist()


def test_limits_hold_the_true_curve():
    inside = []
    for seed in range(60):
        curve = product_limit(watched_lives(seed, 150))
        row = int(np.argmin(np.abs(curve.at_cycles - 25_000)))
        truth = float(survival_probability(curve.at_cycles[row], 1.5, 40_000))
        inside.append(curve.lower[row] <= truth <= curve.upper[row])
    assert 0.8 <= np.mean(inside) <= 0.98


def test_curve_at_nothing_says_how_little_it_knows():
    curve = product_limit(Lifetimes.from_ages([3, 8], [True, True]))
    assert curve.survival.tolist() == [0.5, 0.0]
    assert (curve.standard_error[-1], curve.lower[-1], curve.upper[-1]) == (0, 0, 1)
    assert curve.median_cycles == 3


def test_median_beyond_the_data_is_not_given():
    assert product_limit(Lifetimes.from_ages([3, 8, 8], [True, False, False])).median_cycles is None


def test_curve_without_failures_says_so():
    with pytest.raises(NotEstimableError, match="No failure was seen"):
        product_limit(Lifetimes.from_ages([3], [False]))
    with pytest.raises(NotEstimableError, match="No failure was seen"):
        product_limit(Lifetimes.from_ages([3], [True], [3]))
    with pytest.raises(ValueError, match="confidence must lie between 0 and 1, got 2"):
        product_limit(Lifetimes.from_ages([3], [True]), 2)
