import numpy as np
import pytest

from analytics.kernel.inspection_interval import (
    DelayTime,
    InspectionCosts,
    best_inspection_interval,
    inspection_cost_rate,
    looks_needed,
    share_failing_before_look,
)

DELAY = DelayTime(defects_per_cycle=1 / 20_000, delay_shape=1.6, delay_scale_cycles=5_000)
COSTS = InspectionCosts(look=20, defect=150, failure=900)


@pytest.mark.parametrize("interval", [800.0, 4_000.0, 15_000.0])
def test_share_that_fails_agrees_with_simulated_defects(interval):
    rng = np.random.default_rng(2)
    arises = rng.uniform(0, interval, 400_000)
    fails = arises + 5_000 * rng.weibull(1.6, 400_000)
    assert float(share_failing_before_look(interval, DELAY)) == pytest.approx(
        (fails < interval).mean(), abs=0.003
    )


def test_best_interval_is_the_lowest_of_a_fine_grid():
    grid = np.geomspace(50, 100_000, 20_000)
    rates = inspection_cost_rate(grid, (DELAY,), COSTS)
    assert best_inspection_interval((DELAY,), COSTS) == pytest.approx(
        grid[np.argmin(rates)], rel=2e-3
    )


def test_one_look_at_two_parts_weighs_both():
    """Costs simulated look by look: a look finds whatever shows on either part."""
    other = DelayTime(defects_per_cycle=1 / 50_000, delay_shape=1.0, delay_scale_cycles=20_000)
    both, rng, interval, looks = (DELAY, other), np.random.default_rng(4), 3_000.0, 400_000
    money = COSTS.look * looks
    for part in both:
        arises = rng.uniform(0, interval, rng.poisson(part.defects_per_cycle * interval * looks))
        shown = part.delay_scale_cycles * rng.weibull(part.delay_shape, len(arises))
        fails = arises + shown < interval
        money += np.where(fails, COSTS.failure, COSTS.defect).sum()
    assert float(inspection_cost_rate(interval, both, COSTS)) == pytest.approx(
        money / (interval * looks), rel=0.01
    )
    apart = [best_inspection_interval((part,), COSTS) for part in both]
    together = best_inspection_interval(both, COSTS)
    grid = np.geomspace(50, 100_000, 20_000)
    assert together == pytest.approx(
        grid[np.argmin(inspection_cost_rate(grid, both, COSTS))], rel=2e-3
    )
    # A look that sees more pays sooner.
    assert together < min(apart)


def test_looks_too_dear_never_pay():
    assert best_inspection_interval((DELAY,), InspectionCosts(1e7, 150, 900)) is None


def test_enough_looks_reach_the_chance_wanted():
    for theta in (0.3, 0.5, 0.8):
        n = looks_needed(theta, 0.95)
        assert 1 - (1 - theta) ** n >= 0.95 - 1e-12
        assert 1 - (1 - theta) ** (n - 1) < 0.95
    assert looks_needed(0.5, 0.75) == 2


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="delay_shape must be above 0, got 0"):
        DelayTime(1.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="the cost of a look must be above 0, got 0"):
        InspectionCosts(0, 1, 2)
    with pytest.raises(ValueError, match="were the two swapped"):
        InspectionCosts(1, 9, 2)
    with pytest.raises(ValueError, match="an interval must be above 0 cycles, got 0"):
        share_failing_before_look(0.0, DELAY)
    with pytest.raises(ValueError, match="the wanted chance lies between 0 and 1, got 1"):
        looks_needed(0.5, 1.0)
