"""Doors: where each is, how far its counter is, and how much it is used."""

from __future__ import annotations

from datetime import datetime

from ninja import Router, Schema
from ninja.errors import HttpError

from analytics.api.paging import AskedPage, doors_on_page, figures_in_sight, next_after
from analytics.models import DoorFigures
from fleetdoors.api.access import NOT_FOUND, MachineRequest, Reader
from fleetdoors.api.call_limit import CallsAMinute

router = Router(tags=["Doors"], auth=Reader())


class DoorOut(Schema):
    """A door's whereabouts and use; unknown is null."""

    door: str
    door_model: str
    truck: str | None
    depot: str | None
    in_service: bool
    cycles_now: float | None
    cycles_per_day: float
    cycles_per_day_lower: float
    cycles_per_day_upper: float
    basis: str
    last_read_at: datetime | None
    last_value: int | None
    readings_held: int


class DoorsOut(Schema):
    """A page of doors."""

    rows: list[DoorOut]
    next_after: str | None


@router.get(
    "",
    response=DoorsOut,
    throttle=CallsAMinute(240, of="doors"),
    url_name="doors",
    summary="Doors by serial number",
)
def list_doors(request: MachineRequest, page: AskedPage) -> DoorsOut:
    """Doors in the token's sight, a page at a time, with their use as last computed."""
    doors = doors_on_page(request, page)
    return DoorsOut(
        rows=[_told(each) for each in doors[: page.limit]], next_after=next_after(doors, page)
    )


@router.get(
    "/{door}",
    response=DoorOut,
    throttle=CallsAMinute(240, of="door"),
    url_name="door",
    summary="One door",
)
def one_door(request: MachineRequest, door: str) -> DoorOut:
    """One door by its serial number; 404 where the token does not see it."""
    found = figures_in_sight(request, None).filter(door__serial=door).with_links().first()
    if found is None:
        raise HttpError(NOT_FOUND, "No door with this number is in this token's sight.")
    return _told(found)


def _told(row: DoorFigures) -> DoorOut:
    return DoorOut(
        door=row.door.serial,
        door_model=row.door.door_model.code,
        truck=row.truck.fleet_number if row.truck else None,
        depot=row.depot.code if row.depot else None,
        in_service=row.in_service,
        cycles_now=row.cycles_now,
        cycles_per_day=row.cycles_per_day,
        cycles_per_day_lower=row.lower,
        cycles_per_day_upper=row.upper,
        basis=row.basis,
        last_read_at=row.last_read_at,
        last_value=row.last_value,
        readings_held=row.held,
    )
