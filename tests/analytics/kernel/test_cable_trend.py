import numpy as np
import pytest
from scipy.stats import kendalltau, theilslopes

from analytics.kernel.cable_trend import (
    CableLimits,
    CableState,
    assess_cable,
    corrected_resistance,
    fit_cable_trend,
)
from analytics.kernel.lifetimes import NotEstimableError

OHM = 0.12
CROSSING = 600 / 0.35  # of 1.6 times as new, at 35 % more resistance per 1,000 cycles


def measured(seed, points, *, wild=0.0, rise=0.35):
    """Cycles and corrected resistance: 1.5 % of current, 12 mV, some points far off."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 1000, points))
    heat, current = rng.uniform(-5, 35, points), 12 * rng.uniform(0.8, 1.2, points)
    true = OHM * (1 + rise * x / 1000)
    drop = current * true * (1 + 0.00393 * (heat - 20)) + rng.normal(0, 0.012, points)
    drop = np.where(rng.random(points) < wild, drop * rng.uniform(1.3, 2, points), drop)
    return x, corrected_resistance(drop, current * (1 + rng.normal(0, 0.015, points)), heat)


@pytest.mark.parametrize("seed", range(4))
def test_line_and_range_agree_with_scipy(seed):
    x, ohm = measured(seed, 15, wild=0.1)
    found = fit_cable_trend(x, ohm, 1.6 * OHM)
    slope, _, low, high = theilslopes(ohm, x, 0.9)
    assert found.slope_ohm_per_cycle == pytest.approx(slope)
    # scipy rounds the ranks to the nearest, ours go outwards: never narrower.
    assert found.slope_lower <= low
    assert found.slope_upper >= high
    score = kendalltau(x, ohm).statistic * 15 * 14 / 2
    assert found.mann_kendall_z == pytest.approx((score - 1) / np.sqrt(15 * 14 * 35 / 18))


@pytest.mark.parametrize(("points", "wild"), [(12, 0.0), (25, 0.0), (12, 0.1), (25, 0.1)])
def test_crossing_is_near_the_truth_and_its_range_holds_it(points, wild):
    """Goals: median error <= 10 % at 12 points and more, 90 % range covers >= .83."""
    error, inside = [], []
    for seed in range(200):
        found = fit_cable_trend(*measured(seed, points, wild=wild), 1.6 * OHM)
        if found.rises:
            error.append(abs(found.crossing_cycles / CROSSING - 1))
            upper = found.crossing_upper_cycles or np.inf
            inside.append(found.crossing_lower_cycles <= CROSSING <= upper)
    assert len(error) > 180
    assert np.median(error) <= 0.10
    assert 0.83 <= np.mean(inside) <= 0.96


@pytest.mark.parametrize("points", [6, 12, 25])
def test_a_cable_that_keeps_its_resistance_is_rarely_said_to_rise(points):
    said = [fit_cable_trend(*measured(s, points, rise=0.0), 1.6 * OHM).rises for s in range(300)]
    assert np.mean(said) <= 0.08


def test_heat_is_taken_out():
    cold, hot = corrected_resistance([1.2, 1.2 * (1 + 0.00393 * 30)], [10, 10], [20, 50])
    assert hot == pytest.approx(cold)
    assert corrected_resistance([1.2], [10], [np.nan]) == pytest.approx([0.12])


def test_five_points_are_no_trend():
    found = fit_cable_trend([0, 1, 2, 3, 4], [1.0, 1.1, 1.2, 1.3, 1.4], 2.0)
    assert not found.rises
    assert found.crossing_cycles is None
    assert "5 measurements are too few" in found.reason


def test_flat_says_so():
    found = fit_cable_trend(range(8), [1.0] * 8, 2.0)
    assert found.mann_kendall_z == 0
    assert "does not clearly rise" in found.reason
    assert found.ohm_at(100) == 1.0


def test_one_moment_is_no_line():
    with pytest.raises(NotEstimableError, match="three different cycles"):
        fit_cable_trend([5, 5, 5], [1.0, 1.1, 1.2], 2.0)


def judged(factors, *, current=10.0, board=24.0, limits=None):
    ohm = 0.12 * np.array(factors, dtype=float)
    cycles = np.arange(len(ohm)) * 1000.0
    given = (cycles, ohm * current, np.full(len(ohm), current), np.full(len(ohm), 20.0), board)
    return assess_cable(*given) if limits is None else assess_cable(*given, limits=limits)


@pytest.mark.parametrize(
    ("factors", "state"),
    [
        ([1, 1, 1, 1.1, 1.2], CableState.HOLDS),
        ([1, 1, 1, 1.15, 1.3], CableState.WATCH),
        ([1, 1, 1, 1.3, 1.45, 1.6], CableState.ACT),
        ([1, 1, 1, 1.26], CableState.SUDDEN),
        ([1, 1, 1, 1.25], CableState.HOLDS),
    ],
)
def test_states_by_the_cables_own_as_new(factors, state):
    assert judged(factors).state == state


def test_a_tenth_of_the_boards_volts_comes_first_where_it_is_lower():
    found = judged([1, 1, 1, 1.2], board=13.0)
    assert found.act_ohm == pytest.approx(0.13)
    assert found.state == CableState.ACT
    assert judged([1, 1, 1, 1.1], limits=CableLimits(watch_factor=1.05)).state == CableState.WATCH


def test_measurements_at_a_low_current_are_left_out():
    found = assess_cable([0, 1, 2, 3], [1.2, 1.2, 0.9, 1.2], [10, 10, 5, 10], [20] * 4, 24.0)
    assert found.used.tolist() == [True, True, False, True]
    assert found.state == CableState.HOLDS
    assert "too few" in found.reason


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: corrected_resistance([-1], [10], [20]),
            "a voltage drop must be 0 or more, got -1",
        ),
        (lambda: corrected_resistance([1], [0], [20]), "a current must be above 0, got 0"),
        (lambda: corrected_resistance([1], [10], [-80]), "above -60 degrees, got -80"),
        (lambda: fit_cable_trend([1, 2], [1.0], 2.0), "do not match"),
        (lambda: fit_cable_trend([1, 2], [1.0, 0.0], 2.0), "resistances above 0"),
        (lambda: fit_cable_trend([1, 2], [1.0, 2.0], 0.0), "limit must be above 0 ohm, got 0"),
        (lambda: fit_cable_trend([1, 2], [1.0, 2.0], 3.0, 1.0), "between 0 and 1, got 1"),
        (lambda: assess_cable([1], [1.0], [10], [20], 0.0), "must be above 0 volts, got 0"),
        (lambda: assess_cable([], [], [], [], 24.0), "No voltage drop has been measured"),
    ],
)
def test_wrong_input_is_named(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_the_range_of_the_crossing_holds_the_best_one():
    """Close to the middle of the points both outer slopes lie on one side of the best one."""
    beside = 0
    for seed in range(200):
        cycles, ohm = measured(seed, 12, wild=0.1)
        limit = float(np.median(ohm))
        found = fit_cable_trend(cycles, ohm, limit)
        if not found.rises:
            continue
        upper = found.crossing_upper_cycles or np.inf
        assert found.crossing_lower_cycles <= found.crossing_cycles <= upper
        beside += found.crossing_cycles in (found.crossing_lower_cycles, upper)
    assert beside > 0
