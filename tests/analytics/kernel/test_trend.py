from itertools import product

import numpy as np
import pytest
from scipy.optimize import minimize

from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.recurrence import RepairHistories
from analytics.kernel.trend import NO_FAILURES, assess_trend, fit_power_law, sign_flip_p


def power_law_doors(seed: int, doors: int, slope: float, late: bool = False) -> RepairHistories:
    """About three failures a door over unequal windows."""
    rng = np.random.default_rng(seed)
    end = rng.uniform(0.5, 1.5, doors)
    start = rng.uniform(0.05, 0.4, doors) if late else np.zeros(doors)
    low, high = start**slope, end**slope
    count = rng.poisson(3 * (high - low))
    door = np.repeat(np.arange(doors), count)
    share = rng.uniform(0, 1, len(door))
    age = (low[door] + share * (high - low)[door]) ** (1 / slope)
    return RepairHistories.from_columns(start * 1e4, end * 1e4, door, age * 1e4)


@pytest.mark.parametrize("late", [False, True])
def test_slope_is_the_highest_point_found_by_a_plain_search(late):
    doors = power_law_doors(4, 25, 1.5, late)

    def loss(logs):
        rate, slope = np.exp(logs)
        t, s, e = (v / 1e4 for v in (doors.event_cycles, doors.start_cycles, doors.end_cycles))
        log_rate = np.log(rate * slope) + (slope - 1) * np.log(t)
        return -(log_rate.sum() - rate * (e**slope - s**slope).sum())

    best = minimize(
        loss, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-11}
    )
    law = fit_power_law(doors)
    assert law.slope == pytest.approx(np.exp(best.x[1]), rel=1e-6)
    assert law.rate * 1e4**law.slope == pytest.approx(np.exp(best.x[0]), rel=1e-6)


@pytest.mark.parametrize("slope", [0.7, 1.0, 1.8])
def test_unbiased_slope_recovers_the_truth(slope):
    found = [fit_power_law(power_law_doors(seed, 6, slope)).slope_unbiased for seed in range(200)]
    assert np.mean(found) == pytest.approx(slope, rel=0.04)


def test_sign_flips_count_every_way():
    scores = np.array([0.4, -1.0, 2.5, 0.3, 1.1])
    sums = [np.dot(signs, scores) for signs in product([1, -1], repeat=5)]
    assert sign_flip_p(scores) == pytest.approx(np.mean(np.array(sums) >= scores.sum() - 1e-9))
    with pytest.raises(ValueError, match="sign flips need 1 to 20 doors, got 0"):
        sign_flip_p(np.array([]))


def test_steady_failures_are_rarely_called_a_trend():
    """Goal: at most 8 % above the one-sided 5 % line without clustering."""
    z = [assess_trend(power_law_doors(seed, 150, 1.0)).robust_z for seed in range(300)]
    assert np.mean(np.array(z) > 1.645) <= 0.08
    few = [assess_trend(power_law_doors(seed, 10, 1.0)).verdict for seed in range(300)]
    assert np.mean([word in ("possibly", "deteriorating") for word in few]) <= 0.08


def test_failures_in_clusters_are_rarely_called_a_trend():
    """Three visits for one repair: the pooled tests are misled, the verdict is not."""
    pooled, robust = [], []
    for seed in range(200):
        base = power_law_doors(seed, 100, 1.0)
        late = base.end_cycles[base.event_door]
        ages = [np.minimum(base.event_cycles + after, late) for after in (0, 5, 9)]
        doors = RepairHistories.from_columns(
            base.start_cycles, base.end_cycles, np.tile(base.event_door, 3), np.concatenate(ages)
        )
        found = assess_trend(doors)
        pooled.append(found.laplace_u > 1.645)
        robust.append(found.robust_z > 1.645)
    assert np.mean(pooled) > 0.12
    assert np.mean(robust) <= 0.09


def test_a_true_rise_is_found():
    """Goal: at least 90 % at slope 1.6 and 150 doors."""
    words = [assess_trend(power_law_doors(seed, 150, 1.6)).verdict for seed in range(60)]
    assert np.mean([word == "deteriorating" for word in words]) >= 0.9
    falls = [assess_trend(power_law_doors(seed, 150, 0.6)).verdict for seed in range(60)]
    assert np.mean([word == "improving" for word in falls]) >= 0.9


def test_few_doors_can_prove_hardly_anything():
    found = assess_trend(power_law_doors(1, 6, 2.2))
    assert "hardly anything can be proved" in found.reason
    assert found.verdict != "deteriorating"


def test_windows_that_start_later_have_no_chi_square():
    found = assess_trend(power_law_doors(2, 30, 1.4, late=True))
    assert (found.chi2, found.degrees_of_freedom, found.chi2_p) == (None, None, None)
    assert found.laplace_u is not None
    assert found.slope == pytest.approx(1.4, rel=0.3)


def test_laplace_uses_the_middle_of_each_window():
    doors = RepairHistories.from_columns([100, 0], [300, 90], [0, 0, 1], [250, 290, 30])
    expected = (50 + 90 - 15) / np.sqrt((200**2 + 200**2 + 90**2) / 12)
    assert assess_trend(doors).laplace_u == pytest.approx(expected)


def test_no_failure_and_one_door_say_so():
    none = RepairHistories.from_columns([0, 0], [5, 5], [], [])
    assert assess_trend(none) is NO_FAILURES
    one = assess_trend(RepairHistories.from_columns([0], [100], [0], [40]))
    assert one.verdict == "too few"
    assert one.robust_z is None
    assert one.slope is None
    assert "cannot show a trend of the group" in one.reason
    assert "A slope needs at least two failures, got 1." in one.reason


def test_an_empty_window_changes_no_slope():
    doors = RepairHistories.from_columns([0, 0], [80, 100], [0, 1, 1], [30, 50, 90])
    more = RepairHistories.from_columns([0, 0, 500], [80, 100, 500], [0, 1, 1], [30, 50, 90])
    assert fit_power_law(doors).slope == pytest.approx(fit_power_law(more).slope)


def test_failures_that_carry_no_slope_say_so():
    empty = RepairHistories.from_columns([7, 9], [7, 9], [0, 1], [7, 9])
    with pytest.raises(NotEstimableError, match="The windows hold no cycles"):
        fit_power_law(empty)
    assert assess_trend(empty).laplace_u is None
    at_zero = RepairHistories.from_columns([0], [10], [0, 0], [0, 5])
    with pytest.raises(NotEstimableError, match="A failure at 0 cycles"):
        fit_power_law(at_zero)
    assert assess_trend(at_zero).chi2 is None
    at_end = RepairHistories.from_columns([0], [10], [0, 0], [10, 10])
    with pytest.raises(NotEstimableError, match="at the edge of their windows"):
        fit_power_law(at_end)
