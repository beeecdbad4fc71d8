"""Doors that fail more than their share: found, and nobody accused in an even fleet."""

from __future__ import annotations

import numpy as np

from analytics.kernel.more_than_share import MUCH_MORE, ShareRanking, rank_by_share
from analytics.proof.claim import COVER_90, Claim, Effort

GROUP = "more than their share"
DOORS, BAD_SHARE = 3_000, 0.04
# A small fleet as a dispatcher knows it: three doors in a hundred fail four times as often.
FEW_DOORS, FEW_BAD, FEW_RATIO, FEW_EXPECTED = 240, 0.03, 4.0, 5.0
# What the page says where it lists nobody: how often a door three times as bad is told.
THREE_TIMES, ENOUGH_EXPECTED, LITTLE_EXPECTED = 3.0, 5.0, 2.0


def claims(effort: Effort) -> list[Claim]:
    """Rank fleets with a bad minority, fleets with none, and fleets with a smooth spread."""
    runs = range(effort.runs(12, 3))
    mixed = [_mixed(seed) for seed in runs]
    even = [int(_ranked(seed, np.ones(DOORS)).listed.sum()) for seed in runs]
    small = _small_fleets(range(effort.runs(40, 20)))
    told = [
        _small_fleets(range(effort.runs(40, 20)), THREE_TIMES, expected)[1]
        for expected in (ENOUGH_EXPECTED, LITTLE_EXPECTED)
    ]
    twice = _small_fleets(range(effort.runs(40, 20)), MUCH_MORE, ENOUGH_EXPECTED)[1]
    alike = [int(_listed_of_few(seed, 0.0)[1]) for seed in range(effort.runs(80, 40))]
    return [
        Claim(GROUP, "240 doors: listed ones that are not twice as bad", small[0], highest=0.25),
        Claim(GROUP, "240 doors: those four times as bad that are listed", small[1], lowest=0.60),
        Claim(GROUP, "240 doors, 5 failures each: three times as bad, listed", told[0], 0.5, 0.7),
        Claim(GROUP, "240 doors, 2 failures each: three times as bad, listed", told[1], 0, 0.2),
        Claim(GROUP, "240 doors, 5 failures each: twice as bad, listed", twice, highest=0.15),
        Claim(GROUP, "240 even doors: listed, most in any run", max(alike), highest=1),
        Claim(GROUP, "listed doors that are not twice as bad", _mean(mixed, 0), highest=0.25),
        Claim(GROUP, "doors twice as bad that are listed", _mean(mixed, 1), lowest=0.45),
        Claim(GROUP, "doors listed in an even fleet, most in any run", max(even), highest=1),
        Claim(GROUP, "90 % range of a door's ratio holds it", _range_cover(runs), *COVER_90),
    ]


def _small_fleets(
    runs: range, ratio: float = FEW_RATIO, expected: float = FEW_EXPECTED
) -> tuple[float, float]:
    """Share of false ones among all listed, and of true ones found."""
    found = [_listed_of_few(seed, FEW_BAD, ratio, expected) for seed in runs]
    right, listed, bad = np.sum(found, axis=0).tolist()
    return 1 - right / max(listed, 1), right / max(bad, 1)


def _listed_of_few(
    seed: int, share: float, ratio: float = FEW_RATIO, expected: float = FEW_EXPECTED
) -> np.ndarray:
    """Bad doors listed, doors listed, and bad doors of a small fleet."""
    rng = np.random.default_rng([44, seed])
    bad = rng.random(FEW_DOORS) < share
    runs = rng.gamma(2.0, expected / 2, FEW_DOORS)
    failed = rng.poisson(runs * np.where(bad, ratio, 1.0))
    listed = rank_by_share(failed, runs * failed.sum() / runs.sum()).listed
    return np.array([(listed & bad).sum(), listed.sum(), bad.sum()])


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
