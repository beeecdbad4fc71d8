"""One-off checks are opened, ticked off door by door, and closed with a reason."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from fleetdoors.models import DoorModel, DoorUnit, Mounting, Part, User
from inspections.models import OneOffCheck, OneOffLook
from inspections.services.corrections import sign, supersede


class OneOffRefusedError(ValueError):
    """The check cannot be opened, ticked off or closed as asked; nothing was changed."""


@dataclass(frozen=True)
class Finding:
    """What somebody found on a door."""

    is_as_it_should_be: bool
    note: str
    looked_by: str


@dataclass(frozen=True)
class DoorLooked:
    """A door that the check concerns, where it is, and the look it has had."""

    door: DoorUnit
    truck: str
    depot: str
    look: OneOffLook | None


@transaction.atomic
def open_check(
    *,
    title: str,
    what_to_look_at: str,
    door_model: DoorModel | None,
    part: Part | None,
    opened_at: datetime,
    opened_by: User | None,
) -> OneOffCheck:
    """Begin a check over the doors of a model or the doors that carry a part, one of the two."""
    if (door_model is None) == (part is None):
        raise OneOffRefusedError(_("Name a door model or a part, one of the two."))
    return OneOffCheck.objects.create(
        title=title.strip(),
        what_to_look_at=what_to_look_at.strip(),
        door_model=door_model,
        part=part,
        opened_at=opened_at,
        opened_by=opened_by,
    )


@transaction.atomic
def record_looks(
    *,
    check: OneOffCheck,
    doors: Collection[DoorUnit],
    found: Finding,
    looked_at: datetime,
    entered_at: datetime,
    entered_by: User | None,
) -> int:
    """Tick off doors; a door ticked off before is passed over. Returns how many are new."""
    check = OneOffCheck.objects.select_for_update().get(pk=check.pk)
    if check.closed_at:
        raise OneOffRefusedError(_("This check is closed: open another one."))
    if not found.is_as_it_should_be and not found.note:
        raise OneOffRefusedError(_("Say what was found: a door that is not right needs a word."))
    had = set(
        OneOffLook.objects.in_force()
        .filter(check_asked=check, door__in=doors)
        .values_list("door_id", flat=True)
    )
    new = [door for door in doors if door.pk not in had]
    for door in new:
        look = OneOffLook(
            check_asked=check,
            door=door,
            looked_at=looked_at,
            looked_by=found.looked_by,
            is_as_it_should_be=found.is_as_it_should_be,
            note=found.note[:300],
        )
        sign(look, corrects=None, reason="", by=entered_by, at=entered_at)
        look.save()
    return len(new)


@transaction.atomic
def take_look_back(*, look: OneOffLook, reason: str, entered_at: datetime) -> None:
    """A door was ticked off by mistake: it counts as not looked at again, the tick stays read."""
    OneOffCheck.objects.select_for_update().get(pk=look.check_asked_id)
    supersede(look, reason=reason, entered_at=entered_at)
    OneOffLook.objects.filter(pk=look.pk).update(reason=reason.strip()[:200])


@transaction.atomic
def close_check(*, check: OneOffCheck, reason: str, closed_at: datetime) -> None:
    """End a check, done or not; closed twice, the first word stays."""
    check = OneOffCheck.objects.select_for_update().get(pk=check.pk)
    if check.closed_at:
        return
    if not reason.strip():
        raise OneOffRefusedError(_("Say why it is closed: the reason is empty."))
    check.closed_at, check.why_closed = closed_at, reason.strip()[:200]
    check.save(update_fields=("closed_at", "why_closed"))


def doors_of_check(check: OneOffCheck, visible: QuerySet[DoorUnit]) -> list[DoorLooked]:
    """The doors concerned that a person may see, those not looked at first; queries thrice."""
    doors = list(check.doors().filter(pk__in=visible.values("pk")))
    looks = {
        look.door_id: look
        for look in OneOffLook.objects.in_force()
        .filter(check_asked=check)
        .select_related("entered_by")
    }
    mounted = {
        each.door_id: each.truck
        for each in Mounting.objects.open().filter(door__in=doors).select_related("truck__depot")
    }
    rows = []
    for door in doors:
        truck = mounted.get(door.pk)
        rows.append(
            DoorLooked(
                door=door,
                truck=truck.fleet_number if truck else "",
                depot=str(truck.depot) if truck else "",
                look=looks.get(door.pk),
            )
        )
    return sorted(rows, key=lambda row: (row.look is not None, row.depot, row.truck))
