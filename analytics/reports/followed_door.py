"""One door followed through its record as it is now, by what was learned from the whole fleet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from zoneinfo import ZoneInfo

import numpy as np

from analytics.assessment.exposure import Exposure, assess_exposure
from analytics.assessment.parameters import kept_parameters
from analytics.assessment.usage import UsageFound, assess_doors_usage, assess_fleet_usage
from analytics.datasets import fetch_fleet
from analytics.datasets.clock import local_day
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import cycles_at
from analytics.models import Computation
from fleetdoors.models import DoorUnit


@dataclass(frozen=True)
class Expected:
    """What a counter was expected to show when it was read, 95 times in 100."""

    low: float
    high: float


@dataclass(frozen=True)
class FollowedDoor:
    """Lifetime cycles of one door at its readings and at any moment."""

    fleet: Fleet
    usage: UsageFound
    exposure: Exposure

    @property
    def is_empty(self) -> bool:
        """Whether the record of the door has not begun."""
        return len(self.fleet.doors) == 0

    @property
    def has_point(self) -> bool:
        """Whether any lifetime cycles are known."""
        return len(self.usage.series.day) > 0

    def cycles_by_reading(self) -> dict[int, float]:
        """Lifetime cycles by reading id, of those that count."""
        found = self.usage.followed.judgement.cycles
        pairs = zip(self.fleet.readings.ids.tolist(), found.tolist(), strict=True)
        return {reading: cycles for reading, cycles in pairs if not np.isnan(cycles)}

    def expected_by_reading(self) -> dict[int, Expected]:
        """The range expected by reading id, where anything was to go by."""
        judgement = self.usage.followed.judgement
        columns = (self.fleet.readings.ids, judgement.expected_low, judgement.expected_high)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return {reading: Expected(low, high) for reading, low, high in rows if not np.isnan(low)}

    def cycles_at(self, moment: datetime, zone: tzinfo) -> float | None:
        """Lifetime cycles at a moment, between readings by the straight line."""
        return self._cycles_on(local_day(moment, ZoneInfo(_name(zone))))

    def cycles_on(self, day: date) -> float | None:
        """Lifetime cycles at the start of a day."""
        return self._cycles_on(local_day(datetime.combine(day, time(), _UTC), _UTC))

    def _cycles_on(self, day: float) -> float | None:
        if self.is_empty or not self.has_point:
            return None
        found = cycles_at(self.usage.series, np.zeros(1, np.int64), np.array([day])).cycles[0]
        return None if np.isnan(found) else float(found)


_UTC = ZoneInfo("UTC")


def _name(zone: tzinfo) -> str:
    return zone.key if isinstance(zone, ZoneInfo) else "UTC"


def follow_door(door: DoorUnit, run: Computation | None, *, now: datetime) -> FollowedDoor:
    """The door as its record stands now; queries some fifteen times, however long the record."""
    fleet = fetch_fleet(now, {door.pk})
    parameters = None if run is None else kept_parameters(run.parameters)
    if parameters is not None:
        usage = assess_doors_usage(fleet, parameters, None)
    else:
        # Before the first run, and between an upgrade and the next one, a door stands for itself.
        usage = assess_fleet_usage(fleet)
    return FollowedDoor(fleet, usage, assess_exposure(fleet, usage.series))
