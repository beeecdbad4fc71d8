"""Demand forecast on a past date, against the parts used in the weeks after it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from analytics.assessment.demand import DemandFactors
from analytics.assessment.weekly_use import use_of_parts
from analytics.checking.origins import Then
from analytics.datasets.fleet import PartsRecord
from analytics.kernel.count_distribution import match_counts
from analytics.models import DemandMethod

DEMAND_DAYS = 84
LOWEST, HIGHEST = 0.05, 0.95
# Less than this expected of a part nobody used says nothing about the forecast.
LEAST_EXPECTED = 0.05


@dataclass(frozen=True)
class DemandOutcome:
    """One part at one depot: whether the 90 % range held, pieces expected and used, errors."""

    depot_id: int
    part_id: int
    inside: bool
    expected: float
    actual: float
    error: float
    naive_error: float


def demand_outcomes(
    then: Then, used_since: PartsRecord, factors: DemandFactors
) -> list[DemandOutcome]:
    """Hold the demand forecast on a past date against what is now known to have been used."""
    actual = used_between(then, used_since)
    use, depots = use_of_parts(then.fleet, then.record), then.fleet.doors.depots
    days = np.array([float(DEMAND_DAYS)])
    found = []
    for demand in then.demands(factors):
        mean, variance = (float(each[0]) for each in demand.over_days(days))
        group = demand.part * len(depots) + demand.depot
        naive = float(use.over_days(group)(days)[0][0])
        key = (int(depots.ids[demand.depot]), int(then.record.parts.ids[demand.part]))
        taken = actual.get(key, 0.0)
        foreseen = demand.method != DemandMethod.NONE and mean >= LEAST_EXPECTED
        if key[0] < 0 or not (foreseen or taken):
            continue
        low, high = match_counts(np.array([mean]), np.array([variance])).quantile(
            np.array([[LOWEST], [HIGHEST]])
        )
        found.append(
            DemandOutcome(
                depot_id=key[0],
                part_id=key[1],
                inside=bool(low[0] <= taken <= high[0]),
                expected=mean,
                actual=taken,
                error=abs(mean - taken),
                naive_error=abs(naive - taken),
            )
        )
    return found


def used_between(then: Then, record: PartsRecord) -> dict[tuple[int, int], float]:
    """Pieces used in the weeks after the date by depot id and part id, successors followed."""
    used, parts = record.used, record.parts
    part = parts.index_of(used.part_id)
    inside = (used.day >= then.day) & (used.day < then.day + DEMAND_DAYS)
    rows = np.flatnonzero(inside & (part >= 0) & (used.depot >= 0))
    ids = then.fleet.doors.depots.ids
    found: dict[tuple[int, int], float] = defaultdict(float)
    for row in rows.tolist():
        newest = int(parts.ids[parts.newest[part[row]]])
        found[int(ids[used.depot[row]]), newest] += float(used.quantity[row])
    return dict(found)
