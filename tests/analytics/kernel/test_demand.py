import numpy as np
import pytest

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand import (
    UnknownAgeCells,
    bin_positions,
    bin_unknown_ages,
    forecast_base_demand,
    possible_ages,
)
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import WeibullDraws, weibull_posterior
from analytics.kernel.renewal import expected_replacements


def life(shape: float, scale: float) -> WeibullDraws:
    return WeibullDraws(np.array([shape]), np.array([scale]))


def fleet(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 60_000, count), np.exp(rng.normal(3.4, 0.6, count))


def simulate_counts(ages, further, shape, scale) -> np.ndarray:
    """Replacements of the whole fleet in each of 1,500 simulated futures."""
    rng = np.random.default_rng(4)
    totals = np.empty(1500)
    for run in range(1500):
        clock = scale * ((ages / scale) ** shape + rng.exponential(size=len(ages))) ** (1 / shape)
        clock = clock - ages
        total, due = 0, clock <= further
        while due.any():
            total += due.sum()
            clock = np.where(due, clock + scale * rng.weibull(shape, len(ages)), np.inf)
            due = clock <= further
        totals[run] = total
    return totals


def test_cells_hold_every_position_and_the_means():
    ages, rates = fleet(1, 5000)
    rates[:10] = 0.0
    cells = bin_positions(ages, rates)
    assert len(cells.positions) < 3000
    assert cells.positions.sum() == 5000
    assert cells.positions @ cells.age_cycles == pytest.approx(ages.sum())
    assert cells.positions @ cells.cycles_per_day == pytest.approx(rates.sum())


def test_cells_change_the_forecast_by_less_than_one_in_five_thousand():
    ages, rates = fleet(2, 20_000)
    found = forecast_base_demand(life(1.4, 45_000), [70.0], bin_positions(ages, rates))
    each = expected_replacements(ages, rates * 70, 1.4, 45_000)
    assert found.mean[0] == pytest.approx(each.sum(), rel=2e-4)


def test_mean_and_variance_agree_with_simulated_futures():
    ages, rates = fleet(3, 800)
    further = rates * 200
    counts = simulate_counts(ages, further, 2.2, 40_000)
    found = forecast_base_demand(life(2.2, 40_000), [200.0], bin_positions(ages, rates))
    assert found.mean[0] == pytest.approx(counts.mean(), rel=0.01)
    assert found.variance[0] == pytest.approx(counts.var(), rel=0.12)
    assert found.variance[0] < found.mean[0]


def test_not_knowing_the_life_widens_the_forecast():
    ages, rates = fleet(5, 500)
    cells = bin_positions(ages, rates)
    sure = forecast_base_demand(life(1.5, 40_000), [100.0], cells)
    unsure = WeibullDraws(np.array([1.5, 1.5]), np.array([30_000.0, 55_000.0]))
    found = forecast_base_demand(unsure, [100.0], cells)
    spread = found.mean_by_draw[:, 0].var()
    assert found.variance[0] == pytest.approx(found.within_by_draw[:, 0].mean() + spread)
    assert found.variance[0] > 2 * sure.variance[0]


def test_demand_grows_with_the_horizon_from_nothing():
    ages, rates = fleet(6, 200)
    found = forecast_base_demand(life(1.2, 50_000), [0.0, 30.0, 90.0], bin_positions(ages, rates))
    assert found.mean[0] == 0
    assert found.variance[0] == 0
    assert (np.diff(found.mean) > 0).all()


def test_unknown_ages_agree_with_sockets_simulated_from_new():
    """Renew sockets from new to the record's start, run on, keep those that have not failed."""
    rng = np.random.default_rng(8)
    shape, scale, ceiling, since, further = 2.0, 40_000.0, 70_000.0, 9_000.0, 8_000.0
    sockets = 200_000
    fitted = np.zeros(sockets)
    ends = scale * rng.weibull(shape, sockets)
    while (ends < ceiling).any():
        gone = ends < ceiling
        fitted[gone] = ends[gone]
        ends[gone] += scale * rng.weibull(shape, gone.sum())
    kept = ends > ceiling + since
    share = (ends[kept] <= ceiling + since + further).mean()
    cells = bin_unknown_ages([ceiling], [since], [80.0])
    found = forecast_base_demand(life(shape, scale), [100.0], unknown=cells)
    assert found.mean[0] == pytest.approx(share, rel=0.05)
    assert found.variance[0] == pytest.approx(share * (1 - share), rel=0.05)


def test_possible_ages_lie_within_their_bounds():
    cells = UnknownAgeCells(
        np.array([50_000.0, 0.0]),
        np.array([4000.0, 100.0]),
        np.array([30.0, 9.0]),
        np.array([3.0, 2.0]),
    )
    found = possible_ages(cells, 2.0, 40_000.0)
    assert found.weight.sum(axis=1) == pytest.approx([1, 1])
    assert found.age_cycles[0].min() > 4000
    assert found.age_cycles[0].max() == 54_000
    assert found.age_cycles[1] == pytest.approx([100.0] * 11)


def test_a_very_old_socket_is_most_likely_replaced_before():
    """No part lasts eleven scales, so the age must be that of a later part."""
    found = possible_ages(bin_unknown_ages([450_000.0], [10.0], [30.0]), 2.5, 40_000.0)
    assert np.isfinite(found.weight).all()
    assert (found.weight * found.age_cycles).sum() < 40_000


def test_groups_add_up_and_agree_with_each_alone():
    ages, rates = fleet(10, 6000)
    depot = np.random.default_rng(1).integers(0, 4, 6000)
    draws = WeibullDraws(np.array([1.2, 2.0]), np.array([40_000.0, 50_000.0]))
    start = {"known": bin_positions(ages, rates, depot, 5)}
    start["unknown"] = bin_unknown_ages(ages, ages / 3, rates, depot, 5)
    found = forecast_base_demand(draws, [30.0, 90.0], **start)
    assert found.mean.shape == (5, 2)
    assert found.mean[4].tolist() == [0, 0]
    for index in range(4):
        own = depot == index
        alone = forecast_base_demand(
            draws,
            [30.0, 90.0],
            bin_positions(ages[own], rates[own]),
            bin_unknown_ages(ages[own], ages[own] / 3, rates[own]),
        )
        assert found.mean[index] == pytest.approx(alone.mean, rel=5e-3)
        assert found.variance[index] == pytest.approx(alone.variance, rel=1e-2)


def test_quantiles_hold_what_they_say_when_the_life_is_only_estimated():
    """Goal: demand stays at or below its 95 % quantile in at least 90 % of fleets.

    Each fleet learns the life from its own past, 60,000 cycles of 300 sockets renewed at failure,
    and is then run on for ten weeks.
    """
    rng = np.random.default_rng(99)
    shape, scale, sockets = 1.4, 45_000.0, 300
    below = []
    for _ in range(500):
        rate = np.exp(rng.normal(3.4, 0.5, sockets))
        seen = rng.uniform(20_000, 60_000, sockets)
        age = np.zeros(sockets)
        lives, clock = [], np.zeros(sockets)
        running = np.arange(sockets)
        while len(running):
            life = scale * rng.weibull(shape, len(running))
            left = seen[running] - clock[running]
            lives.append((np.minimum(life, left), life <= left))
            age[running] = np.minimum(life, left)
            clock[running] += life
            running = running[life <= left]
        ages, failed = (np.concatenate(column) for column in zip(*lives, strict=True))
        draws = weibull_posterior(Lifetimes.from_ages(ages, failed)).draws(24)
        found = forecast_base_demand(draws, [70.0], bin_positions(age, rate))
        level = match_counts(found.mean, found.variance).quantile(0.95)[0]
        due = scale * ((age / scale) ** shape + rng.exponential(size=sockets)) ** (1 / shape)
        below.append((due - age <= rate * 70).sum() <= level)
    assert 0.93 <= np.mean(below) <= 0.985


def test_hundred_thousand_positions_of_ten_components_cost_few_cells():
    """The speed goal rests on this: the cost does not grow with the fleet."""
    ages, rates = fleet(9, 100_000)
    assert len(bin_positions(ages, rates).positions) <= 196 * 41


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="needs positions of known or of unknown age"):
        forecast_base_demand(life(1, 1), [3.0])
    with pytest.raises(ValueError, match="every position needs a group from 0 to 1"):
        bin_positions([1.0], [1.0], [2], 2)
    with pytest.raises(ValueError, match="cycles_per_day must be 0 or more and finite, got -1"):
        bin_positions([1.0], [-1.0])
    with pytest.raises(ValueError, match="positions need columns of equal length"):
        bin_positions([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="a horizon must be 0 or more days, got -3"):
        forecast_base_demand(life(1, 1), [-3.0], bin_positions([1.0], [1.0]))
