"""Cable resistance: when the limit is crossed, and no trend where there is none."""

from __future__ import annotations

import numpy as np

from analytics.kernel.cable_trend import (
    COPPER_PER_KELVIN,
    CableTrend,
    corrected_resistance,
    fit_cable_trend,
)
from analytics.proof.claim import COVER_90, Claim, Effort

GROUP = "cable trend"
AS_NEW_OHM, RISE, SPAN = 0.12, 0.35, 1_000.0
LIMIT = 1.6 * AS_NEW_OHM
CROSSING = 0.6 / RISE * SPAN


def claims(effort: Effort) -> list[Claim]:
    """Clean measurements and such with a tenth of wild points."""
    runs = effort.runs(600, 200)
    found = []
    for points, wild in ((12, 0.0), (25, 0.0), (12, 0.1), (25, 0.1)):
        rising = [each for each in _fits(runs, points, wild=wild, rise=RISE) if each.rises]
        of = f"{points} points, {wild:.0%} wild"
        error = [abs((each.crossing_cycles or np.inf) / CROSSING - 1) for each in rising]
        held = [_holds(each) for each in rising]
        found.append(
            Claim(GROUP, f"median error of crossing: {of}", float(np.median(error)), highest=0.1)
        )
        found.append(Claim(GROUP, f"90 % range of crossing: {of}", float(np.mean(held)), *COVER_90))
    flat = [each.rises for each in _fits(runs, 12, wild=0.0, rise=0.0)]
    return [
        *found,
        Claim(GROUP, "trend said of a cable without one", float(np.mean(flat)), highest=0.08),
    ]


def _holds(trend: CableTrend) -> bool:
    low = trend.crossing_lower_cycles or 0.0
    return low <= CROSSING <= (trend.crossing_upper_cycles or np.inf)


def _fits(runs: int, points: int, *, wild: float, rise: float) -> list[CableTrend]:
    return [fit_cable_trend(*_measured(k, points, wild, rise), LIMIT) for k in range(runs)]


def _measured(seed: int, points: int, wild: float, rise: float) -> tuple[np.ndarray, np.ndarray]:
    """Cycles and corrected resistance with 1.5 % error of current and 12 mV of drop."""
    rng = np.random.default_rng([81, seed, points])
    cycles = np.sort(rng.uniform(0, SPAN, points))
    heat, current = rng.uniform(-5, 35, points), 12 * rng.uniform(0.8, 1.2, points)
    true = AS_NEW_OHM * (1 + rise * cycles / SPAN) * (1 + COPPER_PER_KELVIN * (heat - 20))
    drop = current * true + rng.normal(0, 0.012, points)
    drop = np.where(rng.random(points) < wild, drop * rng.uniform(1.3, 2, points), drop)
    noted = current * (1 + rng.normal(0, 0.015, points))
    return cycles, corrected_resistance(drop, noted, heat)
