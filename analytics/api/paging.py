"""Long answers come in pages of doors, each page naming where the next begins."""

from __future__ import annotations

from typing import Annotated

from ninja import Field, Query, Schema

from analytics.models import DoorFigures
from analytics.models.door_figures import DoorFiguresQuerySet
from fleetdoors.api.access import MachineRequest, depot_ids, depots_asked_for

MOST_DOORS = 500
CODE_SIGNS = r"^[^\x00-\x1f]*$"


class DoorPage(Schema):
    """Which doors are asked for, and from where on."""

    depot: Annotated[str, Field(max_length=40, pattern=CODE_SIGNS)] | None = Field(
        None, description="Only this depot's doors."
    )
    after: Annotated[str, Field(max_length=80, pattern=CODE_SIGNS)] = Field(
        "", description="The `next_after` of the page before."
    )
    limit: int = Field(100, ge=1, le=MOST_DOORS, description="Doors a page.")


AskedPage = Annotated[DoorPage, Query()]


def doors_on_page(request: MachineRequest, page: DoorPage) -> list[DoorFigures]:
    """The doors of the page and one more if there are more, by serial number; queries."""
    found = figures_in_sight(request, page.depot).filter(door__serial__gt=page.after)
    return list(found.with_links()[: page.limit + 1])


def figures_in_sight(request: MachineRequest, depot: str | None) -> DoorFiguresQuerySet:
    """Figures of the doors that the token may see; queries the token's depots."""
    current = DoorFigures.objects.current()
    if depot is None and request.auth.sees_all():
        return current
    return current.at_depots(tuple(depot_ids(depots_asked_for(request.auth, depot))))


def next_after(doors: list[DoorFigures], page: DoorPage) -> str | None:
    """Where the next page begins, None on the last one."""
    return doors[page.limit - 1].door.serial if len(doors) > page.limit else None
