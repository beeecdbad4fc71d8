import numpy as np
import pytest

from analytics.kernel.demand_calibration import calibrate_demand, learn_calibration


def test_a_forecast_that_holds_is_left_alone():
    rng = np.random.default_rng(1)
    factors = [learn_calibration(np.full(52, 6.0), rng.poisson(6.0, 52), 0.05) for _ in range(100)]
    assert np.mean([found.factor for found in factors]) == pytest.approx(1.0, abs=0.02)
    assert np.mean([found.alert for found in factors]) <= 0.02
    assert np.mean([found.dispersion for found in factors]) < 1.15


def test_parts_that_fail_twice_as_often_raise_an_alert():
    rng = np.random.default_rng(2)
    found = learn_calibration(np.full(40, 5.0), rng.poisson(10.0, 40), 0.05)
    assert found.factor == pytest.approx(2.0, rel=0.15)
    assert found.alert
    assert found.chance_much_faster > 0.99


def test_lumpy_weeks_are_trusted_less():
    rng = np.random.default_rng(3)
    lumpy = rng.negative_binomial(0.8, 0.8 / 8.8, 52)
    found = learn_calibration(np.full(52, 8.0), lumpy, 0.05)
    steady = learn_calibration(np.full(52, 8.0), rng.poisson(8.0, 52), 0.05)
    assert found.dispersion > 3
    assert found.weight < steady.weight


def test_factor_and_dispersion_satisfy_their_own_equations():
    rng = np.random.default_rng(4)
    forecast, actual = rng.uniform(2, 6, 30), rng.poisson(7.0, 30)
    found = learn_calibration(forecast, actual, 0.05)
    fade = 0.975 ** np.arange(29, -1, -1)
    start = 20.0
    top = start + (fade * actual).sum() / found.dispersion
    bottom = start + (fade * forecast).sum() / found.dispersion
    assert found.factor == pytest.approx(top / bottom, rel=1e-6)
    assert found.weight == pytest.approx(top, rel=1e-6)
    mean = found.factor * forecast
    misfit = ((actual - mean) ** 2 / mean).sum()
    assert found.dispersion == pytest.approx(max(1.0, (20 + misfit) / 50), rel=1e-6)


def test_a_small_difference_is_taken_for_chance_and_a_large_one_is_followed():
    """Against one fixed weight of 30 or of 1,000 failures, worked out by hand."""
    fade = (0.975 ** np.arange(52)).sum()
    near = learn_calibration(np.full(52, 20.0), np.full(52, 20.4), 0.0)
    far = learn_calibration(np.full(52, 20.0), np.full(52, 40.0), 0.0)
    loose = (30 + 20.4 * fade) / (30 + 20 * fade)
    tight = (1000 + 20.4 * fade) / (1000 + 20 * fade)
    assert tight <= near.factor < tight + 0.25 * (loose - tight)
    assert far.dispersion == pytest.approx(1.0, abs=0.05)
    assert far.factor == pytest.approx((30 + 40 * fade) / (30 + 20 * fade), rel=0.01)


@pytest.mark.parametrize("truth", [1.0, 1.1, 1.6])
def test_range_of_the_factor_holds_it(truth):
    rng = np.random.default_rng(8)
    inside = []
    for _ in range(300):
        found = learn_calibration(np.full(52, 12.0), rng.poisson(12.0 * truth, 52), 0.002)
        inside.append(found.lower <= truth <= found.upper)
    assert np.mean(inside) >= 0.83


def test_no_weeks_leave_the_start():
    found = learn_calibration([], [], 0.5)
    assert (found.factor, found.weight, found.dispersion, found.weeks) == (1, 2, 1, 0)
    assert not found.alert


def test_calibrated_demand_covers_what_then_happens():
    """A fleet whose life model is off by a factor that differs from fleet to fleet."""
    rng = np.random.default_rng(6)
    inside = []
    for _ in range(300):
        truth = rng.gamma(20, 1 / 20)
        found = learn_calibration(np.full(52, 4.0), rng.poisson(4.0 * truth, 52), 0.05)
        ahead = calibrate_demand(found, 40.0, 40.0)
        high = ahead.mean + 1.645 * np.sqrt(ahead.variance)
        inside.append(rng.poisson(40.0 * truth) <= high)
    assert 0.92 <= np.mean(inside) <= 0.99


def test_nothing_forecast_stays_nothing():
    found = calibrate_demand(learn_calibration([1.0], [1], 0.1), [0.0, 5.0], [0.0, 2.0])
    assert (found.mean[0], found.variance[0]) == (0, 0)
    assert found.variance[1] > 0.7 * found.mean[1]


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="the actual must be 0 or more and finite, got -1"):
        learn_calibration([1.0], [-1], 0.1)
    with pytest.raises(ValueError, match=r"\(2,\) forecasts do not match \(1,\) weeks"):
        learn_calibration([1.0, 2.0], [1], 0.1)
    with pytest.raises(ValueError, match="relative_variance must be 0 or more, got -1"):
        learn_calibration([1.0], [1], -1)
    with pytest.raises(ValueError, match="a mean must be 0 or more and finite, got -2"):
        calibrate_demand(learn_calibration([1.0], [1], 0.1), -2.0, 1.0)
