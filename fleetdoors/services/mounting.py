"""Doors go on trucks, come off and move; a truck carries one door at a time."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Mounting, Truck
from fleetdoors.services.recomputation import doors_changed


class MountingRefusedError(ValueError):
    """The door cannot go on or come off as asked; nothing was changed."""


@transaction.atomic
def mount_door(*, door: DoorUnit, truck: Truck, mounted_on: date, entered_at: datetime) -> Mounting:
    """Put a door that is on no truck onto a truck that has none."""
    _lock(door, truck)
    check_mounting(door=door, truck=truck, mounted_on=mounted_on)
    mounting = Mounting.objects.create(
        door=door, truck=truck, mounted_on=mounted_on, entered_at=entered_at
    )
    doors_changed([door.pk])
    return mounting


@transaction.atomic
def unmount_door(*, door: DoorUnit, removed_on: date, entered_at: datetime) -> Mounting:
    """Take a door off the truck it is on."""
    _lock(door)
    mounting = Mounting.objects.open().filter(door=door).select_related("truck").first()
    if mounting is None:
        raise MountingRefusedError(_("Door %(door)s is on no truck.") % {"door": door})
    check_unmounting(mounting=mounting, removed_on=removed_on)
    mounting.removed_on = removed_on
    mounting.end_entered_at = entered_at
    mounting.save(update_fields=("removed_on", "end_entered_at"))
    doors_changed([door.pk])
    return mounting


@transaction.atomic
def move_door(*, door: DoorUnit, truck: Truck, moved_on: date, entered_at: datetime) -> Mounting:
    """Take a door off its truck and put it onto another on the same day."""
    unmount_door(door=door, removed_on=moved_on, entered_at=entered_at)
    return mount_door(door=door, truck=truck, mounted_on=moved_on, entered_at=entered_at)


def check_mounting(*, door: DoorUnit, truck: Truck, mounted_on: date) -> None:
    """Raise MountingRefusedError when the door cannot go on the truck on that day; queries."""
    facts = {"door": door, "truck": truck, "day": mounted_on}
    present = Mounting.objects.open().filter(Q(door=door) | Q(truck=truck))
    for mounting in present.select_related("door", "truck").order_by("pk"):
        if mounting.door_id == door.pk:
            raise MountingRefusedError(
                _("A door is on one truck at a time: %(door)s is on truck %(truck)s.")
                % {"door": door, "truck": mounting.truck}
            )
        raise MountingRefusedError(
            _(
                "A truck carries one door at a time: truck %(truck)s has door %(present)s, "
                "take that off before %(door)s goes on."
            )
            % {**facts, "present": mounting.door}
        )
    if door.retired_on and mounted_on >= door.retired_on:
        raise MountingRefusedError(
            _("A retired door is not mounted: %(door)s was retired on %(retired)s.")
            % {**facts, "retired": door.retired_on}
        )
    _check_past(door, truck, mounted_on)


def check_unmounting(*, mounting: Mounting, removed_on: date) -> None:
    """Raise MountingRefusedError when a stay cannot end on that day."""
    if removed_on < mounting.mounted_on:
        raise MountingRefusedError(
            _("A door comes off after it went on: %(door)s went on on %(on)s, not after %(off)s.")
            % {"door": mounting.door, "on": mounting.mounted_on, "off": removed_on}
        )


def _check_past(door: DoorUnit, truck: Truck, mounted_on: date) -> None:
    past = Mounting.objects.filter(Q(door=door) | Q(truck=truck)).filter(
        Q(removed_on__gt=mounted_on) | Q(door=door, mounted_on=mounted_on)
    )
    clash = past.select_related("door", "truck").order_by("-removed_on").first()
    if clash:
        raise MountingRefusedError(
            _(
                "Stays do not overlap: door %(door)s was on truck %(truck)s from %(on)s to "
                "%(off)s, so nothing goes on on %(day)s."
            )
            % {
                "door": clash.door,
                "truck": clash.truck,
                "on": clash.mounted_on,
                "off": clash.removed_on,
                "day": mounted_on,
            }
        )


def _lock(door: DoorUnit, truck: Truck | None = None) -> None:
    """Two people who mount at once are served one after the other."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    if truck:
        Truck.objects.select_for_update().get(pk=truck.pk)
