"""What the demand of a very large fleet costs on this machine, in this run."""

from __future__ import annotations

from time import perf_counter

import numpy as np

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand import bin_positions, forecast_base_demand
from analytics.kernel.posterior import WeibullDraws
from analytics.proof.claim import Claim, Effort

GROUP = "speed"
DOORS, COMPONENTS, WEEKS, DRAWS = 100_000, 10, 26, 24
LEVELS = np.array([0.05, 0.1, 0.5, 0.9, 0.95])[:, None]


def claims(effort: Effort) -> list[Claim]:
    """The better of two runs, which a busy machine disturbs least."""
    seconds = min(_seconds() for _ in range(effort.runs(2)))
    said = f"{DOORS:,} doors x {COMPONENTS} components x {WEEKS} weeks, seconds"
    return [Claim(GROUP, said, seconds, highest=10.0)]


def _seconds() -> float:
    rng = np.random.default_rng(2)
    rates = np.exp(rng.normal(3.4, 0.6, DOORS))
    ages = rng.uniform(0, 60_000, (COMPONENTS, DOORS))
    horizons = np.arange(1, WEEKS + 1) * 7.0
    started = perf_counter()
    for component in range(COMPONENTS):
        shape, scale = 0.9 + 0.2 * component, 25_000 + 10_000 * component
        draws = WeibullDraws(
            shape * np.exp(rng.normal(0, 0.1, DRAWS)), scale * np.exp(rng.normal(0, 0.1, DRAWS))
        )
        found = forecast_base_demand(draws, horizons, bin_positions(ages[component], rates))
        match_counts(found.mean, found.variance).quantile(LEVELS)
    return perf_counter() - started
