"""Batches that one outside cause takes: demand of a part of which half goes that way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand_calibration import calibrate_demand, learn_calibration
from analytics.kernel.shock_batches import batches_among, forecast_batches
from analytics.proof.claim import COVER_90, Claim, Effort, Floats
from analytics.proof.made_fleet import Ints

GROUP = "batches"
DEPOTS, WEEKS, HORIZON_WEEKS, LEARNING_WEEKS = 31, 156, 10, 52
# Pieces a week by wear in the fleet, batches per depot and year, doors of a depot, share hit.
BY_WEAR, BATCHES_A_YEAR, DOORS_AT_DEPOT, SHARE_HIT = 11.2, 4.0, 80, 0.10
ENDS = np.array([0.05, 0.95])


@dataclass(frozen=True, eq=False)
class Taken:
    """Pieces taken: depot and day of each."""

    depot: Ints
    day: Ints

    def before(self, day: int) -> Taken:
        """Those taken before a day."""
        kept = self.day < day
        return Taken(self.depot[kept], self.day[kept])


def claims(effort: Effort) -> list[Claim]:
    """Ten weeks ahead, each from a record of its own."""
    rows = np.array([_forecast(seed) for seed in range(effort.runs(240, 120))])
    truth, lower, upper = rows.T
    under = float((truth <= upper).mean())
    inside = float(((lower <= truth) & (truth <= upper)).mean())
    return [
        Claim(GROUP, "demand with batches at or below its 95 % quantile", under, lowest=0.88),
        Claim(GROUP, "90 % interval of demand with batches holds it", inside, *COVER_90),
    ]


def _forecast(seed: int) -> Floats:
    """What was taken in the weeks ahead, and the 90 % interval said before."""
    now = 7 * WEEKS
    every = _taken(np.random.default_rng([97, seed]))
    past = every.before(now)
    found = batches_among(past.depot, past.day, depots=DEPOTS, weeks=WEEKS)
    apart = forecast_batches(found, [DEPOTS * HORIZON_WEEKS])
    ordinary = np.bincount(past.day[~found.in_batch] // 7, minlength=WEEKS)[-LEARNING_WEEKS:]
    learned = learn_calibration(np.full(LEARNING_WEEKS, BY_WEAR), ordinary, 1e-3)
    ahead = BY_WEAR * HORIZON_WEEKS
    wear = calibrate_demand(learned, ahead, ahead)
    said = match_counts(wear.mean + apart.mean, wear.variance + apart.variance)
    ends = np.asarray(said.quantile(ENDS), float).ravel()
    return np.array([len(every.day) - len(past.day), *ends])


def _taken(rng: np.random.Generator) -> Taken:
    """Wear day by day, and batches spread over the seven days after their cause."""
    days = 7 * (WEEKS + HORIZON_WEEKS)
    wear = rng.poisson(BY_WEAR * days / 7)
    causes = rng.poisson(BATCHES_A_YEAR / 365.25 * DEPOTS * days)
    size = rng.binomial(DOORS_AT_DEPOT, SHARE_HIT, causes)
    begun = np.repeat(rng.uniform(0, days, causes), size)
    hit = np.repeat(rng.integers(0, DEPOTS, causes), size)
    day = np.concatenate((rng.uniform(0, days, wear), begun + rng.uniform(0, 7, len(begun))))
    depot = np.concatenate((rng.integers(0, DEPOTS, wear), hit))
    inside = day < days
    return Taken(depot[inside], np.floor(day[inside]).astype(np.int64))
