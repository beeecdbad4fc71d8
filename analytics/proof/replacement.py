"""Planned replacement: not advised where it is useless, near the best where it pays."""

from __future__ import annotations

import numpy as np

from analytics.kernel.intervals import (
    IntervalAdvice,
    advise_replacement_age,
    best_replacement_age,
    replacement_cost_rate,
)
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import weibull_posterior
from analytics.proof.claim import COVER_80, Claim, Effort

GROUP = "planned replacement"
SCALE, PLANNED, FAILURE = 40_000.0, 1.0, 5.0


def claims(effort: Effort) -> list[Claim]:
    """Advice on chance failures and on wear; the optimum against a fine grid."""
    runs = effort.runs(200, 80)
    useless = [_advice(seed, 1.0, 20).verdict == "advised" for seed in range(runs)]
    return [
        Claim(GROUP, "useless advice at shape 1", float(np.mean(useless)), highest=0.15),
        Claim(GROUP, "cost of advised age over the best, shape 3", _cost(runs), highest=1.05),
        Claim(GROUP, "best age over that of a fine grid", _grid_ratio(), 0.95, 1.05),
        *(
            Claim(GROUP, f"80 % range of the best age, {n} parts", _cover(n, runs), *COVER_80)
            for n in (60, 200)
        ),
    ]


def _advice(seed: int, shape: float, parts: int) -> IntervalAdvice:
    rng = np.random.default_rng([71, seed])
    life, end = SCALE * rng.weibull(shape, parts), rng.uniform(0.25, 1.5, parts) * SCALE
    lives = Lifetimes.from_ages(np.minimum(life, end), life <= end)
    return advise_replacement_age(weibull_posterior(lives), PLANNED, FAILURE)


def _cost(runs: int) -> float:
    """True mean cost per cycle of what is advised, over the lowest possible; shape 3."""
    best = best_replacement_age(3.0, SCALE, PLANNED, FAILURE).cost_per_cycle
    costs = []
    for seed in range(runs):
        advice = _advice(seed, 3.0, 60)
        if advice.best_cycles is not None and advice.verdict == "advised":
            costs.append(
                float(replacement_cost_rate(advice.best_cycles, 3.0, SCALE, PLANNED, FAILURE))
            )
    return float(np.mean(costs)) / best


def _cover(parts: int, runs: int) -> float:
    """Share of advised ranges that hold the truly best age, shape 3."""
    best = best_replacement_age(3.0, SCALE, PLANNED, FAILURE).best_cycles or np.nan
    held = []
    for seed in range(runs):
        advice = _advice(seed, 3.0, parts)
        if advice.lower_cycles is not None and advice.upper_cycles is not None:
            held.append(advice.lower_cycles <= best <= advice.upper_cycles)
    return float(np.mean(held))


def _grid_ratio() -> float:
    """Farthest from 1 over several shapes and ratios of costs."""
    ages = np.geomspace(0.02, 5.0, 20_001)
    ratios: list[float] = []
    for shape, ratio in ((1.5, 5.0), (2.0, 10.0), (3.0, 5.0), (4.0, 20.0)):
        lowest = ages[np.argmin(replacement_cost_rate(ages, shape, 1.0, 1.0, ratio))]
        best = best_replacement_age(shape, 1.0, 1.0, ratio).best_cycles or np.nan
        ratios.append(float(best / lowest))
    return float(max(ratios, key=lambda each: abs(each - 1)))
