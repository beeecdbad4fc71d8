"""Which trucks can leave, in the order in which they do, and what keeps the others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DepotWeekday, Mounting, Truck, TruckWeekday
from inspections.models import DefectReport, RoadHold, Visit, VisitState

# Before this hour the night that began yesterday counts, after it the one that begins today.
NOON = time(12)


@dataclass(frozen=True)
class LeavingTruck:
    """A truck, the time at which it usually leaves, and what speaks against it."""

    truck: Truck
    leaves_at: time | None
    stays_because: list[str]
    look_at: list[str]

    @property
    def stays(self) -> bool:
        """Whether something on record keeps it in the yard."""
        return bool(self.stays_because)


def leaving_trucks(depot: Depot, now: datetime) -> list[LeavingTruck]:
    """Trucks of the depot with a door, by hour of leaving; runs a constant number of queries."""
    mounted = Mounting.objects.open().filter(truck__depot=depot, truck__disposed_on=None)
    trucks = [each.truck for each in mounted.select_related("truck")]
    hours = _hours_of_leaving(depot, now)
    holds, open_visits, reports = _against(depot)
    rows = [
        LeavingTruck(
            truck=truck,
            leaves_at=hours.get(truck.pk, hours.get(None)),
            stays_because=holds.get(truck.pk, []) + open_visits.get(truck.pk, []),
            look_at=reports.get(truck.pk, []),
        )
        for truck in trucks
    ]
    return sorted(rows, key=lambda row: (row.leaves_at or time.max, row.truck.fleet_number))


def _hours_of_leaving(depot: Depot, now: datetime) -> dict[int | None, time | None]:
    """By truck, and for None the depot's own, of the night that ends next."""
    local = now.astimezone(depot.zone)
    night = local if local.time() >= NOON else local - timedelta(days=1)
    of_depot = DepotWeekday.objects.filter(depot=depot, weekday=night.weekday()).first()
    hours: dict[int | None, time | None] = {None: of_depot.home_until if of_depot else None}
    own = TruckWeekday.objects.filter(truck__depot=depot, weekday=night.weekday())
    hours.update({each.truck_id: each.home_until for each in own})
    return hours


@dataclass(frozen=True)
class _Said:
    truck: int | None
    words: str


def _against(depot: Depot) -> list[dict[int | None, list[str]]]:
    """What keeps trucks, what is being worked on, and what nobody has looked at yet."""
    here = Depot.objects.filter(pk=depot.pk)
    holds = RoadHold.objects.standing().at_depots(here)
    visits = Visit.objects.filter(truck__depot=depot, state=VisitState.OPEN)
    reports = DefectReport.objects.unanswered().at_depots(here)
    return [
        _by_truck(_Said(each.truck_id, each.get_because_display()) for each in holds),
        _by_truck(
            _Said(
                each.truck_id,
                _("being worked on by %(person)s") % {"person": each.technician}
                if each.technician
                else _("being worked on"),
            )
            for each in visits.select_related("technician").order_by("pk")
        ),
        _by_truck(
            _Said(
                each.truck_id,
                _("driver's report: %(what)s") % {"what": each.get_complaint_display()},
            )
            for each in reports
        ),
    ]


def _by_truck(said: Iterable[_Said]) -> dict[int | None, list[str]]:
    found: dict[int | None, list[str]] = {}
    for each in said:
        found.setdefault(each.truck, []).append(each.words)
    return found
