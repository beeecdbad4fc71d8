"""What the kernel costs, each figure measured in this run and printed with `pytest -s`."""

import sys
import time
from collections.abc import Callable

import numpy as np
import pytest
from lifelines import WeibullFitter

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand import bin_positions, forecast_base_demand
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import WeibullDraws
from analytics.kernel.weibull import fit_weibull
from tests.bench.machine import slowness


def best_seconds(work: Callable[[], object], times: int) -> float:
    """Shortest of several runs, which a busy machine disturbs least."""
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        work()
        taken.append(time.perf_counter() - started)
    return min(taken)


def tell(line: str) -> None:
    """Show a figure with `pytest -s`."""
    sys.stdout.write(f"{line}\n")


def ten_thousand_lives() -> Lifetimes:
    rng = np.random.default_rng(1)
    life, end = 45_000 * rng.weibull(1.4, 10_000), rng.uniform(0, 60_000, 10_000)
    age = np.minimum(life, end)
    entry = np.where(rng.random(10_000) < 0.3, age * rng.random(10_000), 0.0)
    return Lifetimes.from_ages(age, life <= end, entry)


def test_weibull_fit_is_a_hundred_times_faster_than_lifelines():
    lives = ten_thousand_lives()
    columns = (lives.lo_cycles, lives.hi_cycles, lives.entry_cycles, lives.weights)
    own = best_seconds(lambda: fit_weibull(Lifetimes(*columns)), 30)
    other = WeibullFitter()
    theirs = best_seconds(
        lambda: other.fit(lives.lo_cycles, lives.exact, entry=lives.entry_cycles), 3
    )
    ratio = theirs / own
    tell(f"10,000 lives: {own * 1e3:.2f} ms, lifelines {theirs * 1e3:.0f} ms: {ratio:.0f}x")
    fit = fit_weibull(lives)
    assert fit.shape == pytest.approx(other.rho_, rel=1e-6)
    assert fit.scale_cycles == pytest.approx(other.lambda_, rel=1e-6)
    assert ratio >= 100


def test_demand_of_a_hundred_thousand_doors_takes_ten_seconds_at_most():
    """Ten components, 26 weekly horizons, 24 draws of each life, five quantiles."""
    rng = np.random.default_rng(2)
    rates = np.exp(rng.normal(3.4, 0.6, 100_000))
    ages = rng.uniform(0, 60_000, (10, 100_000))
    weeks = np.arange(1, 27) * 7.0
    levels = np.array([0.05, 0.1, 0.5, 0.9, 0.95])[:, None]

    def whole_fleet() -> None:
        for component in range(10):
            shape, scale = 0.9 + 0.2 * component, 25_000 + 10_000 * component
            draws = WeibullDraws(
                shape * np.exp(rng.normal(0, 0.1, 24)), scale * np.exp(rng.normal(0, 0.1, 24))
            )
            found = forecast_base_demand(draws, weeks, bin_positions(ages[component], rates))
            assert (match_counts(found.mean, found.variance).quantile(levels) > 0).all()

    seconds = best_seconds(whole_fleet, 2)
    allowed = 10 * slowness()
    tell(f"100,000 doors x 10 components x 26 weeks x 24 draws: {seconds:.2f} s ({allowed:.0f})")
    assert seconds <= allowed
