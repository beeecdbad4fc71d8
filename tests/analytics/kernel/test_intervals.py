import numpy as np
import pytest
from scipy.integrate import quad

from analytics.kernel.intervals import (
    advise_replacement_age,
    best_block_interval,
    best_replacement_age,
    minimal_repair_interval,
    replacement_cost_rate,
)
from analytics.kernel.lifetimes import Lifetimes, NotEstimableError
from analytics.kernel.posterior import weibull_posterior
from tests.analytics.kernel.life_samples import watched_lives


@pytest.mark.parametrize("shape", [0.8, 1.7, 3.2])
def test_cost_rate_is_cost_over_the_mean_time_between_replacements(shape):
    run, _ = quad(lambda age: np.exp(-((age / 4e4) ** shape)), 0, 2.5e4)
    failed = 1 - np.exp(-((2.5e4 / 4e4) ** shape))
    found = replacement_cost_rate(2.5e4, shape, 4e4, 100, 700)
    assert float(found) == pytest.approx((100 * (1 - failed) + 700 * failed) / run)


@pytest.mark.parametrize(
    ("shape", "ratio", "at", "saving"),
    [
        (1.2, 10, 0.68, 0.06),
        (1.5, 2, 2.17, 0.00),
        (1.5, 5, 0.67, 0.11),
        (2, 5, 0.51, 0.28),
        (2, 20, 0.23, 0.61),
        (3, 2, 0.81, 0.12),
        (3, 10, 0.38, 0.65),
        (4, 5, 0.54, 0.55),
    ],
)
def test_optimum_of_a_table_worked_out_beforehand(shape, ratio, at, saving):
    """The table came from a grid, hence the tolerance of one in its last digit."""
    found = best_replacement_age(shape, 1.0, 1.0, ratio)
    assert found.best_cycles == pytest.approx(at, abs=1e-2)
    saved = 1 - found.cost_per_cycle / found.run_to_failure_cost_per_cycle
    assert saved == pytest.approx(saving, abs=6e-3)


@pytest.mark.parametrize("shape", [1.3, 2.4, 5.0])
def test_optimum_is_the_lowest_of_a_fine_grid(shape):
    ages = np.geomspace(0.02, 5.0, 20_001)
    rates = replacement_cost_rate(ages, shape, 1.0, 1.0, 8.0)
    found = best_replacement_age(shape, 1.0, 1.0, 8.0)
    assert found.best_cycles == pytest.approx(ages[np.argmin(rates)], rel=1e-3)
    assert found.cost_per_cycle <= rates.min()


def test_parts_that_fail_by_chance_are_run_to_failure():
    found = best_replacement_age(1.0, 4e4, 1, 20)
    assert found.best_cycles is None
    assert "a new part fails no later" in found.reason
    late = best_replacement_age(1.2, 4e4, 1, 1.5)
    assert late.best_cycles is None
    assert "run to failure" in late.reason
    assert best_block_interval(0.9, 4e4, 1, 5).best_cycles is None


def test_clear_wear_is_advised():
    posterior = weibull_posterior(watched_lives(1, 120, shape=3.0))
    found = advise_replacement_age(posterior, 1, 5)
    assert found.verdict == "advised"
    exact = best_replacement_age(3.0, 4e4, 1, 5)
    assert found.best_cycles == pytest.approx(exact.best_cycles, rel=0.15)
    assert found.lower_cycles <= found.best_cycles <= found.upper_cycles
    assert found.saving == pytest.approx(0.46, abs=0.08)
    # Goal: what it costs in truth lies within 5 % of the optimum.
    cost = float(replacement_cost_rate(found.best_cycles, 3.0, 4e4, 1, 5))
    assert cost <= 1.05 * exact.cost_per_cycle


def test_chance_failures_are_seldom_advised():
    """Goal: at a true shape of 1 at most 15 % are advised a useless replacement."""
    words = []
    for seed in range(80):
        rng = np.random.default_rng(seed)
        life, end = 4e4 * rng.weibull(1.0, 20), rng.uniform(1e4, 6e4, 20)
        posterior = weibull_posterior(Lifetimes.from_ages(np.minimum(life, end), life <= end))
        words.append(advise_replacement_age(posterior, 1, 5).verdict)
    assert np.mean([word == "advised" for word in words]) <= 0.15
    assert "no benefit" in words


def test_hint_without_proof_is_unproven():
    ages = [2e4, 2.7e4, 3e4, 3.3e4, 3.5e4]
    lives = Lifetimes.from_ages(ages, [True, True, False, True, False])
    found = advise_replacement_age(weibull_posterior(lives), 1, 5)
    assert found.verdict == "unproven"
    assert "3 failures do not prove it" in found.reason
    assert found.saving > 0


def test_no_benefit_gives_no_age():
    lives = watched_lives(5, 200, shape=0.8)
    found = advise_replacement_age(weibull_posterior(lives), 1, 5)
    assert (found.verdict, found.best_cycles, found.lower_cycles) == ("no benefit", None, None)
    assert "wears out with use" in found.reason


@pytest.mark.parametrize(
    ("preventive", "failure", "message"),
    [
        (0, 5, "the preventive cost must be above 0, got 0"),
        (1, -2, "the failure cost must be above 0, got -2"),
        (5, 1, r"a failure \(1\) must cost more than a planned replacement \(5\): were the two sw"),
        (5, 5, "were the two swapped"),
    ],
)
def test_wrong_costs_are_refused_everywhere(preventive, failure, message):
    posterior = weibull_posterior(watched_lives(1, 20))
    with pytest.raises(ValueError, match=message):
        advise_replacement_age(posterior, preventive, failure)
    for rule in (best_replacement_age, best_block_interval):
        with pytest.raises(ValueError, match=message):
            rule(2.0, 4e4, preventive, failure)
    with pytest.raises(ValueError, match=message):
        replacement_cost_rate(1.0, 2.0, 4e4, preventive, failure)


def test_minimal_repair_needs_failures_that_become_more_frequent():
    with pytest.raises(NotEstimableError, match="never overhaul"):
        minimal_repair_interval(1.0, 4e4, 1, 1)
    with pytest.raises(ValueError, match="the overhaul cost must be above 0, got 0"):
        minimal_repair_interval(2.0, 4e4, 0, 1)
