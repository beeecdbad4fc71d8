"""Who uses a part: how many are fitted at each depot, and which doors took the most of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.datasets.part_use import DoorUse, fitted_by_depot, most_used_on, used_by_depot
from fleetdoors.models import Depot
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import number

DOORS_SHOWN = 8


@dataclass(frozen=True)
class DepotUse:
    """Pieces fitted now at a depot, and used there within a year."""

    depot: str
    fitted: str
    used: str


@dataclass(frozen=True)
class DoorTook:
    """A door with the pieces that it took within a year."""

    label: str
    url: str
    pieces: str
    last_on: str


@dataclass(frozen=True)
class PartUsers:
    """The depots in sight that have or used the part, and the doors that took the most."""

    depots: list[DepotUse]
    doors: list[DoorTook]


def part_users(
    part_ids: set[int], depot_ids: tuple[int, ...] | None, *, now: datetime
) -> PartUsers:
    """Depots and doors by use, superseded numbers included; queries five times."""
    fitted = fitted_by_depot(part_ids, depot_ids)
    used = used_by_depot(part_ids, depot_ids, until=now)
    depots = Depot.objects.filter(pk__in={*fitted, *used}).order_by("code")
    doors = most_used_on(part_ids, depot_ids, until=now, most=DOORS_SHOWN)
    return PartUsers(
        depots=[
            DepotUse(str(depot), number(fitted.get(depot.pk, 0)), number(used.get(depot.pk, 0)))
            for depot in depots
        ],
        doors=[_took(each) for each in doors],
    )


def _took(use: DoorUse) -> DoorTook:
    facts = {"truck": use.truck, "door": use.serial}
    label = _("Truck %(truck)s, door %(door)s") if use.truck else _("Door %(door)s")
    return DoorTook(
        label=label % facts,
        url=reverse("door-detail", args=[use.serial]),
        pieces=number(use.pieces),
        last_on=full_day(use.last_used_at),
    )
