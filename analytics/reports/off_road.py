"""What must not be used: trucks held or off the road with a fault, doors not to be powered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.models import Depot, DoorUnit, Mounting, User
from inspections.models import Fault, RoadHold


@dataclass(frozen=True)
class OffRoad:
    """A truck that must stay, or a door that must not be powered: why, where and since when."""

    name: str
    door: DoorUnit
    because: str
    url: str
    since: datetime
    depot: Depot | None
    keeps_truck: bool = True


def heading(rows: Sequence[OffRoad]) -> str:
    """How many trucks must stay, and how many doors may be worked by hand only."""
    staying = sum(row.keeps_truck for row in rows)
    unpowered = len(rows) - staying
    said = []
    if staying:
        words = ngettext("%(n)s truck cannot roll", "%(n)s trucks cannot roll", staying)
        said.append(words % {"n": staying})
    if unpowered:
        words = ngettext(
            "%(n)s door must not be powered", "%(n)s doors must not be powered", unpowered
        )
        said.append(words % {"n": unpowered})
    return ", ".join(said) or _("No truck is held back")


def off_road(user: User, *, now: datetime) -> list[OffRoad]:
    """What keeps trucks and doors in sight out of use, the longest first; queries three times."""
    return sorted([*_held(user), *_with_fault(user, now)], key=lambda row: row.since)


def _held(user: User) -> list[OffRoad]:
    holds = RoadHold.objects.standing().visible_to(user).select_related("truck__depot", "door")
    return [
        OffRoad(
            str(hold.truck or hold.door),
            hold.door,
            hold.get_because_display(),
            reverse("hold-lift", args=[hold.pk]),
            hold.placed_at,
            hold.truck.depot if hold.truck else None,
            hold.keeps_truck,
        )
        for hold in holds
    ]


def _with_fault(user: User, now: datetime) -> list[OffRoad]:
    """First the few faults that do so anywhere, then which of their doors are in sight.

    The other way round, each door of a large fleet would be looked up.
    """
    begun = Fault.objects.in_force().filter(off_road_from__lte=now)
    open_ones = begun.filter(Q(off_road_until__isnull=True) | Q(off_road_until__gt=now))
    longest_first = open_ones.select_related("door", "component").order_by("off_road_from", "pk")
    faults = list(longest_first)
    visible = Depot.objects.visible_to(user).order_by().values("pk")
    mountings = Mounting.objects.open().filter(
        door__in={fault.door_id for fault in faults}, truck__depot__in=visible
    )
    on = {row.door_id: row.truck for row in mountings.select_related("truck__depot")}
    return [
        OffRoad(
            str(on[fault.door_id]),
            fault.door,
            str(fault.component or fault.get_complaint_display() or _("Fault")),
            reverse("fault-detail", args=[fault.pk]),
            fault.off_road_from or now,
            on[fault.door_id].depot,
        )
        for fault in faults
        if fault.door_id in on
    ]
