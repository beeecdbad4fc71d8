"""Past dates from which forecasts are repeated, and what the program would have said then."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from analytics.assessment.announced import Foreseen, foresee_demand
from analytics.assessment.demand import DemandFactors
from analytics.assessment.demand_terms import Demand
from analytics.assessment.installed_base import Positions, positions_in_use
from analytics.assessment.learned import usage_of_fleet
from analytics.assessment.lives import ComponentLifeFound
from analytics.assessment.whole import DoorsFound, assess_doors, lives_by_revision, lives_of
from analytics.datasets import fetch_fleet, fetch_parts_record
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.fleet import Fleet, PartsRecord

DAYS_BETWEEN_ORIGINS = 28
MOST_ORIGINS = 13
# Before that the program knew too little of the fleet to forecast anything.
DAYS_OF_RECORD_FIRST = 120


@dataclass(frozen=True)
class Then:
    """What was known on a past date, and what followed from it."""

    on: date
    doors: DoorsFound
    record: PartsRecord
    positions: Positions
    lives: tuple[ComponentLifeFound, ...]

    @property
    def fleet(self) -> Fleet:
        """The record as it was known."""
        return self.doors.fleet

    @property
    def day(self) -> float:
        """Epoch day on which the date begins."""
        return float((self.on - EPOCH_DATE).days)

    def demands(self, factors: DemandFactors) -> list[Demand]:
        """Demand as it would have been forecast, with what past weeks had taught by then."""
        per_day = self.doors.usage.usage.cycles_per_day
        return foresee_demand(
            Foreseen(self.fleet, self.record, self.positions, per_day, self.lives, factors)
        )


def origins_before(today: date, fleet: Fleet) -> list[date]:
    """Past dates, oldest first, four weeks apart, at which the record was long enough."""
    days = fleet.readings.kernel.day
    if len(days) == 0:
        return []
    first = EPOCH_DATE + timedelta(days=float(np.floor(days.min())) + DAYS_OF_RECORD_FIRST)
    every = [today - timedelta(days=DAYS_BETWEEN_ORIGINS * k) for k in range(MOST_ORIGINS, 0, -1)]
    return [origin for origin in every if origin >= first]


def known_on(origin: date, only: Collection[int] | None) -> Then:
    """Everything as of the start of a past day, from the rows entered before it."""
    fleet = fetch_fleet(origin, only)
    usage = usage_of_fleet(fleet)
    doors = assess_doors(fleet, usage)
    record = fetch_parts_record(fleet.doors)
    lives = lives_of(fleet, usage, doors.exposure)
    return Then(
        on=origin,
        doors=doors,
        record=record,
        positions=positions_in_use(fleet, record, usage, doors.exposure.end_cycles),
        lives=lives_by_revision(fleet, record, usage, doors.exposure, lives),
    )
