"""Bounds of the mean cycles between failures hold at least as often as they say."""

from __future__ import annotations

import numpy as np

from analytics.kernel.mcbf import estimate_mcbf
from analytics.proof.claim import Claim, Effort

GROUP = "MCBF bounds"
RUNS, CYCLES = 20_000, 100_000.0


def claims(effort: Effort) -> list[Claim]:
    """Draw Poisson counts of known mean and ask the bounds for it."""
    return [
        Claim(
            GROUP,
            f"90 % bounds hold the truth at {expected:g} expected failures",
            cover(expected, effort.runs(RUNS)),
            lowest=0.90,
        )
        for expected in (0.5, 2.0, 8.0, 40.0)
    ]


def cover(expected: float, runs: int) -> float:
    """Share of runs whose bounds hold the true mean."""
    rng = np.random.default_rng(31)
    failures = rng.poisson(expected, runs)
    found = estimate_mcbf(np.full(runs, CYCLES), failures, 0.9)
    true = CYCLES / expected
    below = np.nan_to_num(found.upper_cycles, nan=np.inf) >= true
    return float(((found.lower_cycles <= true) & below).mean())
