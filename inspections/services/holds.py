"""Road holds: placed by a finding, lifted by a named person who signs for the repair."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Mounting, User
from inspections.models import HoldReason, RoadHold
from inspections.models.spring_authorisation import may_work_on_springs
from inspections.moments import in_words

# What only a person trained for spring work signs off.
NEEDS_TRAINING = (HoldReason.SPRING_OR_CABLE, HoldReason.DROPS)


class HoldRefusedError(ValueError):
    """The hold cannot be lifted as asked; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@transaction.atomic
def place_hold(
    *,
    door: DoorUnit,
    because: str,
    detail: str,
    placed_at: datetime,
    entered_at: datetime,
    placed_by: User | None = None,
) -> RoadHold:
    """Keep a truck, or take the power off its door; one hold stands for each reason."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    standing = RoadHold.objects.standing().filter(door=door, because=because).first()
    if standing:
        return standing
    mounting = Mounting.objects.open().filter(door=door).first()
    return RoadHold.objects.create(
        door=door,
        truck=mounting.truck if mounting else None,
        because=because,
        detail=detail[:300],
        placed_at=placed_at,
        placed_by=placed_by,
        entered_at=entered_at,
    )


@transaction.atomic
def lift_hold(
    *,
    hold: RoadHold,
    signed_by: str,
    signed_role: str,
    what_was_done: str,
    lifted_at: datetime,
    lifted_by: User,
    entered_at: datetime,
) -> RoadHold:
    """End a hold by a named person's word; asked for twice, it is done once."""
    DoorUnit.objects.select_for_update().get(pk=hold.door_id)
    hold = RoadHold.objects.get(pk=hold.pk)
    if hold.lifted_at:
        return hold
    _check(hold, signed_by, what_was_done, lifted_at)
    if hold.because in NEEDS_TRAINING and not may_work_on_springs(
        lifted_by, timezone.localdate(lifted_at)
    ):
        raise HoldRefusedError(
            _(
                "Only a person trained and authorized for spring work lifts this hold: "
                "%(person)s is not on record as one on %(day)s."
            )
            % {"person": lifted_by, "day": timezone.localdate(lifted_at)},
            field="signed_by",
        )
    hold.lifted_at, hold.lifted_by, hold.end_entered_at = lifted_at, lifted_by, entered_at
    hold.signed_by, hold.signed_role = signed_by.strip(), signed_role.strip()
    hold.what_was_done = what_was_done.strip()
    hold.save()
    return hold


def _check(hold: RoadHold, signed_by: str, what_was_done: str, lifted_at: datetime) -> None:
    for field, text in (("signed_by", signed_by), ("what_was_done", what_was_done)):
        if not text.strip():
            raise HoldRefusedError(
                _("A hold is lifted by name and with what was done: one of them is empty."),
                field=field,
            )
    if lifted_at < hold.placed_at:
        raise HoldRefusedError(
            _("A hold ends after it began: it was placed at %(moment)s.")
            % {"moment": in_words(hold.placed_at)},
            field="lifted_at",
        )
