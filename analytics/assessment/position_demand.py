"""Replacements to expect at each single position, for those who ask which doors drive a need."""

from __future__ import annotations

import numpy as np

from analytics.datasets.columns import Floats
from analytics.datasets.positions import FittedParts
from analytics.kernel.demand import UnknownAgeCells, possible_ages
from analytics.kernel.posterior import WeibullDraws
from analytics.kernel.renewal import expected_replacements


def expected_by_position(draws: WeibullDraws, fitted: FittedParts, days: float) -> Floats:
    """Expected replacements of each fitted part within days ahead, mean over the draws, (n,)."""
    known = ~np.isnan(fitted.age_cycles)
    found = np.zeros(len(fitted))
    for shape, scale in zip(draws.shape.tolist(), draws.scale_cycles.tolist(), strict=True):
        found[known] += expected_replacements(
            fitted.age_cycles[known], fitted.cycles_per_day[known] * days, shape, scale
        )
        if not known.all():
            found[~known] += _of_unknown_age(fitted, ~known, days, shape, scale)
    return found / len(draws.shape)


def _of_unknown_age(
    fitted: FittedParts, chosen: np.ndarray, days: float, shape: float, scale: float
) -> Floats:
    """Averaged over the ages that each part may have."""
    cells = UnknownAgeCells(
        fitted.ceiling_cycles[chosen],
        fitted.since_cycles[chosen],
        fitted.cycles_per_day[chosen],
        np.ones(int(chosen.sum())),
    )
    ages = possible_ages(cells, shape, scale)
    expected = expected_replacements(
        ages.age_cycles, cells.cycles_per_day[:, None] * days, shape, scale
    )
    averaged: Floats = (ages.weight * expected).sum(axis=1)
    return averaged
