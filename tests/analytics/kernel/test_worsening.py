import numpy as np
import pytest

from analytics.kernel.worsening import watch_failures


def test_level_is_that_of_the_step_by_step_rule():
    rng = np.random.default_rng(1)
    failures, expected = rng.poisson(5.0, 60), rng.uniform(3, 6, 60)
    found = watch_failures(failures, expected, 1.7)
    level, slow = 0.0, []
    for y, mu in zip(failures, expected, strict=True):
        level = max(0.0, level + (y * np.log(1.6) - mu * 0.6) / 1.7)
        slow.append(level)
    assert found.level == pytest.approx(slow, abs=1e-9)


@pytest.mark.parametrize(("expected", "limit"), [(1, 3.65), (4, 4.43), (15, 4.70), (400, 4.70)])
def test_limit_follows_the_size_of_the_group(expected, limit):
    assert watch_failures([1], [expected]).limit == pytest.approx(limit)


@pytest.mark.parametrize("expected", [1.0, 4.0, 15.0])
def test_steady_groups_seldom_raise_an_alarm_in_five_years(expected):
    rng = np.random.default_rng(2)
    alarms = [
        watch_failures(rng.poisson(expected, 60), np.full(60, expected)).first_alarm is not None
        for _ in range(800)
    ]
    assert 0.05 <= np.mean(alarms) <= 0.16


@pytest.mark.parametrize(("expected", "months"), [(4.0, 5), (15.0, 2)])
def test_a_doubling_is_seen_soon(expected, months):
    rng = np.random.default_rng(3)
    first = [
        watch_failures(rng.poisson(2 * expected, 60), np.full(60, expected)).first_alarm
        for _ in range(300)
    ]
    assert np.median(first) + 1 <= months


def test_a_steady_group_below_expectation_stays_at_nothing():
    found = watch_failures(np.zeros(12), np.full(12, 3.0))
    assert found.level.tolist() == [0.0] * 12
    assert found.first_alarm is None


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="expected failures must be above 0, got 0"):
        watch_failures([1], [0.0])
    with pytest.raises(ValueError, match="failures must be 0 or more, got -1"):
        watch_failures([-1], [1.0])
    with pytest.raises(ValueError, match="dispersion must be 1 or more, got 0"):
        watch_failures([1], [1.0], 0.0)
    with pytest.raises(ValueError, match="months do not match"):
        watch_failures([1, 2], [1.0])
