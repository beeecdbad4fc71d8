"""Repeated failures: bounds of the mean curve, and what is called a trend."""

from __future__ import annotations

import numpy as np

from analytics.kernel.recurrence import RepairHistories, mean_cumulative_function
from analytics.kernel.trend import assess_trend, fit_power_law
from analytics.proof.claim import COVER_90, Claim, Effort

GROUP = "repeated failures"
DOORS, LATE_Z = 150, 1.645


def claims(effort: Effort) -> list[Claim]:
    """Steady doors, doors that differ, and doors that get worse."""
    many, few = effort.runs(400, 150), effort.runs(120, 40)
    steady = [assess_trend(drawn(seed, DOORS, 1.0)) for seed in range(many)]
    size = float(np.mean([(each.robust_z or 0.0) > LATE_Z for each in steady]))
    rising = [assess_trend(drawn(seed, DOORS, 1.6)) for seed in range(few)]
    power = float(np.mean([each.verdict == "deteriorating" for each in rising]))
    slopes = [fit_power_law(drawn(seed, 15, 1.6)).slope_unbiased for seed in range(few)]
    return [
        Claim(GROUP, "steady fleets above the 5 % line of the trend", size, highest=0.08),
        Claim(GROUP, "fleets at slope 1.6 called deteriorating", power, lowest=0.9),
        Claim(GROUP, "mean slope over truth, 15 doors", float(np.mean(slopes)) / 1.6, 0.95, 1.05),
        Claim(GROUP, "90 % bounds of the mean curve, 20 doors", _cover(20, 0.0, many), *COVER_90),
        Claim(GROUP, "the same, 80 doors", _cover(80, 0.0, many), *COVER_90),
        Claim(GROUP, "the same, 80 doors that differ", _cover(80, 0.5, many), *COVER_90),
    ]


def drawn(seed: int, doors: int, slope: float, spread: float = 0.0) -> RepairHistories:
    """About three failures a door over unequal windows; doors differ by a log spread."""
    rng = np.random.default_rng([61, seed, doors])
    end = rng.uniform(0.5, 1.5, doors)
    level = np.exp(spread * rng.standard_normal(doors) - spread**2 / 2)
    count = rng.poisson(3 * level * end**slope)
    door = np.repeat(np.arange(doors), count)
    age = end[door] * rng.uniform(0, 1, len(door)) ** (1 / slope)
    return RepairHistories.from_columns(np.zeros(doors), end * 1e4, door, age * 1e4)


def _cover(doors: int, spread: float, runs: int) -> float:
    """Share of runs whose bounds hold the true mean of 1.5 failures at 5,000 cycles."""
    held = []
    for seed in range(runs):
        curve = mean_cumulative_function(drawn(seed, doors, 1.0, spread))
        at = int(np.searchsorted(curve.at_cycles, 5_000.0, side="right")) - 1
        held.append(bool(curve.lower[at] <= 1.5 <= curve.upper[at]))
    return float(np.mean(held))
