"""The usual week of depots, trucks and people, said anew as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time

from django.db import transaction

from fleetdoors.models import (
    ClosedDay,
    Depot,
    DepotWeekday,
    PersonWeekday,
    Truck,
    TruckWeekday,
    User,
)


@dataclass(frozen=True)
class HomeTime:
    """When trucks are home on a day of the week; no times = as long as it takes."""

    weekday: int
    is_home: bool
    home_from: time | None = None
    home_until: time | None = None


@dataclass(frozen=True)
class DepotDay:
    """A day of a depot's week: hours in the bay (none = the depot's usual) and home time."""

    home: HomeTime
    bay_hours: float | None = None


@transaction.atomic
def save_depot_week(*, depot: Depot, days: Sequence[DepotDay]) -> None:
    """Set each given day of a depot's week."""
    for day in days:
        DepotWeekday.objects.update_or_create(
            depot=depot,
            weekday=day.home.weekday,
            defaults={"bay_hours": day.bay_hours, **_times(day.home)},
        )


@transaction.atomic
def save_truck_week(*, truck: Truck, days: Sequence[HomeTime]) -> None:
    """Give a truck hours of its own; no days = it keeps its depot's."""
    TruckWeekday.objects.filter(truck=truck).delete()
    for day in days:
        TruckWeekday.objects.create(truck=truck, weekday=day.weekday, **_times(day))


@transaction.atomic
def save_people_week(*, depot: Depot, hours: Mapping[User, Mapping[int, float]]) -> None:
    """Set how long people work at a depot on each day of the week; 0 = not there."""
    for person, week in hours.items():
        PersonWeekday.objects.filter(person=person, depot=depot).delete()
        PersonWeekday.objects.bulk_create(
            PersonWeekday(person=person, depot=depot, weekday=weekday, hours=hours_there)
            for weekday, hours_there in week.items()
            if hours_there > 0
        )


def close_depot(*, depot: Depot, closed_on: date, reason: str) -> ClosedDay:
    """Say that nobody works in a depot's bay on a date; said twice, the later reason holds."""
    day, _made = ClosedDay.objects.update_or_create(
        depot=depot, closed_on=closed_on, defaults={"reason": reason.strip()[:100]}
    )
    return day


def _times(day: HomeTime) -> dict[str, object]:
    return {"is_home": day.is_home, "home_from": day.home_from, "home_until": day.home_until}
