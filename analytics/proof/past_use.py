"""What past use alone foresees of each store: a flat year, smoothing, TSB and SBA."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.demand_history import WEEKS_IN_WINDOW, flat_year_demand, sba, tsb
from analytics.proof.claim import Floats

WAYS = ("flat year", "smoothing", "TSB", "SBA")
ALPHA = 0.1
FIRST_WEEKS, LEAST_LEVEL = 8, 0.01
DAYS_OF_WEEK = 7.0


@dataclass(frozen=True, eq=False)
class PastUse:
    """Pieces a week that each way foresees, and how they scatter.

    `level` (ways, stores, weeks): foreseen at the beginning of each week. `spread` (stores,
    weeks): variance of one week's pieces. `unsure` (ways,): how many times that the level itself
    is uncertain.
    """

    level: Floats
    spread: Floats
    unsure: Floats

    def over_days(self, week: int, days: Floats) -> tuple[Floats, Floats]:
        """Mean and variance within days ahead of a week's beginning, (ways, stores, days)."""
        weeks = days / DAYS_OF_WEEK
        level, spread = self.level[:, :, week, None], self.spread[:, week, None]
        return level * weeks, spread * (weeks + weeks**2 * self.unsure[:, None, None])


def past_use(weekly: Floats, before: int) -> PastUse:
    """Follow the use of each store, (stores, weeks), and foresee from the week `before` on."""
    years = [flat_year_demand(weekly[:, :k], [1.0]) for k in range(before, weekly.shape[1])]
    flat = np.stack([each.mean[:, 0] for each in years], axis=1)
    # One week ahead holds the variance of a week and that of the average behind it.
    spread = np.stack([each.variance[:, 0] for each in years], axis=1) / (1 + 1 / WEEKS_IN_WINDOW)
    paths = (_smoothed(weekly), tsb(weekly, ALPHA, ALPHA), sba(weekly, ALPHA, ALPHA))
    levels = [np.fmax(path[:, before:-1], LEAST_LEVEL) for path in paths]
    # A level smoothed with a carries a/(2 - a) of one week's variance.
    unsure = [1 / WEEKS_IN_WINDOW, *(ALPHA / (2 - ALPHA) for _ in levels)]
    return PastUse(np.stack([flat, *levels]), spread, np.array(unsure))


def _smoothed(weekly: Floats) -> Floats:
    """Forecast for each week made before it, and one for the week after the last."""
    path = [weekly[:, :FIRST_WEEKS].mean(axis=1)]
    for taken in weekly.T:
        path.append(path[-1] + ALPHA * (taken - path[-1]))
    return np.stack(path, axis=1)
