"""Where a door is now, and by which clock it lives."""

from __future__ import annotations

from datetime import UTC, tzinfo

from fleetdoors.models import Depot, DoorUnit, Mounting


def present_depot(door: DoorUnit) -> Depot | None:
    """The depot of the truck the door is on, None for a door on no truck; queries."""
    mounting = Mounting.objects.open().filter(door=door).select_related("truck__depot").first()
    return mounting.truck.depot if mounting else None


def zone_of(depot: Depot | None) -> tzinfo:
    """The depot's time zone; a door on no truck lives by UTC."""
    return depot.zone if depot else UTC
