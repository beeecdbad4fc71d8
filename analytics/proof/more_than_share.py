"""Doors that fail more than their share: found, and nobody accused in an even fleet."""

from __future__ import annotations

import numpy as np

from analytics.kernel.more_than_share import ShareRanking, rank_by_share
from analytics.proof.claim import COVER_90, Claim, Effort

GROUP = "more than their share"
DOORS, BAD_SHARE = 3_000, 0.04


def claims(effort: Effort) -> list[Claim]:
    """Rank fleets with a bad minority, fleets with none, and fleets with a smooth spread."""
    runs = range(effort.runs(12, 3))
    mixed = [_mixed(seed) for seed in runs]
    even = [int(_ranked(seed, np.ones(DOORS)).listed.sum()) for seed in runs]
    return [
        Claim(GROUP, "listed doors that are not twice as bad", _mean(mixed, 0), highest=0.25),
        Claim(GROUP, "doors twice as bad that are listed", _mean(mixed, 1), lowest=0.45),
        Claim(GROUP, "doors listed in an even fleet, most in any run", max(even), highest=1),
        Claim(GROUP, "90 % range of a door's ratio holds it", _range_cover(runs), *COVER_90),
    ]


def _mixed(seed: int) -> tuple[float, float]:
    """Share of false ones on the list, and share of true ones found."""
    rng = np.random.default_rng([41, seed])
    ratio = np.where(rng.random(DOORS) < BAD_SHARE, rng.uniform(2.5, 6.0, DOORS), 0.9)
    listed = _ranked(seed, ratio).listed
    false = float((ratio[listed] <= 2).mean()) if listed.any() else 0.0
    return false, float(listed[ratio > 2].mean())


def _ranked(seed: int, ratio: np.ndarray) -> ShareRanking:
    rng = np.random.default_rng([42, seed])
    expected = rng.gamma(2.0, 0.9, len(ratio))
    return rank_by_share(rng.poisson(expected * ratio), expected)


def _range_cover(runs: range) -> float:
    inside = []
    for seed in runs:
        ratio = np.random.default_rng([43, seed]).gamma(3.0, 1 / 3, 250)
        found = _ranked(seed, ratio)
        inside.append(((found.ratio_lower <= ratio) & (ratio <= found.ratio_upper)).mean())
    return float(np.mean(inside))


def _mean(pairs: list[tuple[float, float]], which: int) -> float:
    return float(np.mean([pair[which] for pair in pairs]))
