"""The usual week as arrays: hours of the bay, when trucks are home, where people work."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Floats, Ints
from fleetdoors.models import ClosedDay, Depot, DepotWeekday, PersonWeekday, TruckWeekday

WEEK = 7
# 1 January 1970 was a Thursday; weeks count from Monday.
_EPOCH_WEEKDAY = EPOCH_DATE.weekday()
MINUTES_A_DAY = 24 * 60.0


@dataclass(frozen=True)
class DepotHours:
    """One depot's week: minutes of the bay (nan = not on record) and of trucks at home, (7,)."""

    bay: Floats
    home: Floats
    closed: frozenset[int] = frozenset()
    truck_home: dict[int, Floats] = field(default_factory=dict)

    def bay_minutes(self, days: Ints) -> Floats:
        """Minutes of the bay on epoch days, (t,); nan where nobody has said."""
        shut = np.array([day in self.closed for day in days.tolist()], dtype=bool)
        return np.where(shut, 0.0, self.bay[weekday_of(days)])

    def home_minutes(self, trucks: Ints, days: Ints) -> Floats:
        """Minutes that trucks, by id, are home in the nights that begin on epoch days, (k, t)."""
        usual = np.tile(self.home, (len(trucks), 1))
        for row, truck in enumerate(trucks.tolist()):
            if truck in self.truck_home:
                own = self.truck_home[truck]
                usual[row] = np.where(np.isnan(own), self.home, own)
        return usual[:, weekday_of(days)]


@dataclass(frozen=True)
class Presence:
    """Where people work: person id, depot id, day of the week, minutes; one row each."""

    person: Ints
    depot: Ints
    weekday: Ints
    minutes: Floats

    def known(self, person: int) -> bool:
        """Whether it is on record where the person works."""
        return bool((self.person == person).any())

    def minutes_at(self, person: int, depot: int, day: int) -> float:
        """Minutes that the person works at the depot in the night of the epoch day."""
        here = (self.person == person) & (self.depot == depot)
        return float(self.minutes[here & (self.weekday == weekday_of(day))].sum())


def weekday_of(days: Ints | int) -> Ints:
    """Day of the week of epoch days, Monday 0."""
    return np.asarray((days + _EPOCH_WEEKDAY) % WEEK)


def fetch_depot_hours() -> dict[int, DepotHours]:
    """The week of every depot by its id; runs four queries."""
    found = {
        pk: DepotHours(np.full(WEEK, np.nan if hours is None else hours * 60.0), _all_week())
        for pk, hours in Depot.objects.values_list("pk", "bay_hours_per_day")
    }
    for day in DepotWeekday.objects.order_by("pk"):
        hours = found[day.depot_id]
        hours.home[day.weekday] = day.home_minutes
        if day.bay_hours is not None:
            hours.bay[day.weekday] = day.bay_hours * 60.0
    shut: dict[int, set[int]] = {}
    for depot, closed_on in ClosedDay.objects.values_list("depot_id", "closed_on"):
        shut.setdefault(depot, set()).add((closed_on - EPOCH_DATE).days)
    own = _fetch_truck_weeks()
    return {
        pk: DepotHours(hours.bay, hours.home, frozenset(shut.get(pk, ())), own.get(pk, {}))
        for pk, hours in found.items()
    }


def fetch_presence() -> Presence:
    """Where people work by day of the week; runs one query."""
    rows = list(
        PersonWeekday.objects.order_by("pk").values_list(
            "person_id", "depot_id", "weekday", "hours"
        )
    )
    return Presence(
        person=np.array([row[0] for row in rows], dtype=np.int64),
        depot=np.array([row[1] for row in rows], dtype=np.int64),
        weekday=np.array([row[2] for row in rows], dtype=np.int64),
        minutes=np.array([row[3] * 60.0 for row in rows], dtype=float),
    )


def _all_week() -> Floats:
    return np.full(WEEK, MINUTES_A_DAY)


def _fetch_truck_weeks() -> dict[int, dict[int, Floats]]:
    """Trucks that keep their own hours, by depot; nan on days on which they keep the depot's."""
    found: dict[int, dict[int, Floats]] = {}
    for day in TruckWeekday.objects.select_related("truck").order_by("pk"):
        week = found.setdefault(day.truck.depot_id, {})
        week.setdefault(day.truck_id, np.full(WEEK, np.nan))[day.weekday] = day.home_minutes
    return found
