import numpy as np
import pytest

from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.more_than_share import first_of_repeats, rank_by_share


def fleet(seed: int, doors: int, bad_share: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Failures, expectation and true ratio; bad doors fail 2.5 to 6 times as often."""
    rng = np.random.default_rng(seed)
    expected = rng.gamma(2.0, 0.9, doors)
    bad = rng.random(doors) < bad_share
    ratio = np.where(bad, rng.uniform(2.5, 6.0, doors), 0.9)
    return rng.poisson(expected * ratio), expected, ratio


def test_a_separate_minority_is_found_with_few_false():
    """Goal: at 3,000 doors with 4 % bad a false share of at most .25 and .45 of them found."""
    false, found = [], []
    for seed in range(5):
        failures, expected, ratio = fleet(seed, 3000, 0.04)
        ranked = rank_by_share(failures, expected)
        assert ranked.prior == "grid"
        false.append((ratio[ranked.listed] <= 2).mean())
        found.append(ranked.listed[ratio > 2].mean())
    assert np.mean(false) <= 0.25
    assert np.mean(found) >= 0.45


@pytest.mark.parametrize("doors", [80, 3000])
def test_equal_doors_are_not_accused(doors):
    for seed in range(5):
        failures, expected, _ = fleet(seed, doors, 0.0)
        assert rank_by_share(failures, expected).listed.sum() <= 1


def test_ranges_hold_the_true_ratio():
    rng = np.random.default_rng(7)
    ratio = rng.gamma(3.0, 1 / 3, 250)
    expected = rng.gamma(2.0, 1.5, 250)
    found = rank_by_share(rng.poisson(ratio * expected), expected)
    assert found.prior == "mixed"
    inside = (found.ratio_lower <= ratio) & (ratio <= found.ratio_upper)
    assert 0.83 <= inside.mean() <= 0.97


def test_a_door_with_hardly_any_cycles_does_not_lead_the_list():
    expected = np.full(50, 4.0)
    failures = np.array([4] * 48 + [1, 20])
    expected[48] = 0.01
    found = rank_by_share(failures, expected)
    assert found.order[0] == 49
    assert not found.listed[48]


def test_doors_with_many_failures_keep_their_chances_finite():
    expected = np.full(400, 3.0)
    failures = np.random.default_rng(1).poisson(3.0, 400)
    failures[0] = 400
    found = rank_by_share(failures, expected)
    assert found.listed[0]
    assert np.isfinite(found.ratio_mean).all()
    assert found.ratio_mean[0] == pytest.approx(133, rel=0.15)


def test_listed_share_is_the_mean_chance_of_being_wrong():
    failures, expected, _ = fleet(3, 1000, 0.05)
    found = rank_by_share(failures, expected)
    assert found.false_share == pytest.approx((1 - found.chance_above[found.listed]).mean())
    assert found.false_share <= 0.20
    assert (np.diff(found.chance_above[found.order]) <= 0).all()


def test_repeats_of_one_repair_count_once():
    kept = first_of_repeats([3, 3, 3, 3, 5], [100, 90, 104, 130, 91])
    assert kept.tolist() == [False, True, False, True, True]
    with pytest.raises(ValueError, match="within_days must be 0 or more, got -1"):
        first_of_repeats([1], [1], -1)


def test_thin_or_wrong_input_says_so():
    with pytest.raises(NotEstimableError, match="One door cannot be compared with itself"):
        rank_by_share([1], [1.0])
    with pytest.raises(NotEstimableError, match="Nothing was expected to fail"):
        rank_by_share([1, 0], [0.0, 0.0])
    with pytest.raises(ValueError, match="expected must be 0 or more and finite, got -1"):
        rank_by_share([1, 0], [1.0, -1.0])
