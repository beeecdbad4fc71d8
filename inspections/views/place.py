"""The door a page is about: who may see it, where it is, and by which clock it lives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from functools import wraps

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from fleetdoors.access import SignedInRequest
from fleetdoors.models import Depot, DoorUnit, Mounting, Truck
from fleetdoors.services.counter_exchange import counter_on, digits_of
from fleetdoors.services.whereabouts import zone_of
from fleetdoors.views.addresses import door_address
from inspections.services.corrections import DoorRecord

View = Callable[..., HttpResponse]


@dataclass(frozen=True)
class Place:
    """A door and the truck and depot it is at, both None for a door on no truck."""

    door: DoorUnit
    truck: Truck | None
    depot: Depot | None

    @property
    def zone(self) -> tzinfo:
        """The clock that moments on this door are written and shown by."""
        return zone_of(self.depot)

    @property
    def url(self) -> str:
        """The door's own page."""
        return door_address(self.door.serial)

    def counter_digits(self) -> int:
        """How many digits the counter on the door shows today; queries."""
        return digits_of(counter_on(self.door, timezone.localdate()), self.door)


def place_of(door: DoorUnit) -> Place:
    """Where the door is; queries."""
    mounting = Mounting.objects.open().filter(door=door).select_related("truck__depot").first()
    truck = mounting.truck if mounting else None
    return Place(door=door, truck=truck, depot=truck.depot if truck else None)


def at_door(view: View) -> View:
    """Find the door by its serial among those the person may see, and set its clock."""

    @wraps(view)
    def opened(request: SignedInRequest, door: str) -> HttpResponse:
        doors = DoorUnit.objects.visible_to(request.user).select_related("door_model")
        place = place_of(get_object_or_404(doors, serial=door))
        with timezone.override(place.zone):
            return view(request, place)

    return opened


def at_row(model: type[DoorRecord]) -> Callable[[View], View]:
    """Find a row of a door's record among those the person may see, and set its door's clock."""

    def decorate(view: View) -> View:
        @wraps(view)
        def opened(request: SignedInRequest, pk: int) -> HttpResponse:
            rows = model._default_manager.filter(
                door__in=DoorUnit.objects.visible_to(request.user)
            ).select_related("door__door_model", "entered_by", "corrects", "correction")
            row = get_object_or_404(rows, pk=pk)
            place = place_of(row.door)
            with timezone.override(place.zone):
                return view(request, row, place)

        return opened

    return decorate
