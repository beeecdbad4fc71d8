"""Faults are recorded with the parts they took, and corrected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Component, DoorUnit, Part, User
from fleetdoors.services.recomputation import doors_changed
from fleetdoors.services.whereabouts import present_depot
from inspections.codes import FAILURE_MODES
from inspections.models import Fault, PartUsed
from inspections.moments import in_words
from inspections.services.corrections import sign, supersede
from inspections.services.fitting import change_part
from inspections.services.fuse_check import fuse_objection
from inspections.services.ledger_record import book_use
from inspections.services.reservations import use_up

FUTURE_ALLOWED = timedelta(days=1)
DOUBLE_SUBMIT = timedelta(minutes=10)


class FaultRefusedError(ValueError):
    """The fault contradicts itself or the record; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class FaultFacts:
    """What a person says about a fault; `at_cycles` None = taken from the readings around it."""

    found_at: datetime
    at_cycles: int | None = None
    component: Component | None = None
    mode: str = ""
    complaint: str = ""
    detected_by: str = ""
    is_failure: bool = True
    action: str = ""
    off_road_from: datetime | None = None
    off_road_until: datetime | None = None
    note: str = ""


@dataclass(frozen=True)
class PartUse:
    """A part used; a `removal` says that it took a fitted part's place, and why that came off."""

    part: Part
    quantity: int
    position: str = ""
    removal: str = ""


@transaction.atomic
def record_fault(
    *,
    door: DoorUnit,
    facts: FaultFacts,
    parts: Sequence[PartUse],
    entered_at: datetime,
    entered_by: User | None = None,
) -> Fault:
    """Keep a fault, draw its parts from the depot's stock and change the fitted parts chosen."""
    door = DoorUnit.objects.select_for_update().select_related("door_model").get(pk=door.pk)
    check_facts(door=door, facts=facts, entered_at=entered_at)
    repeated = _sent_twice(door, facts, entered_at, entered_by)
    if repeated:
        return repeated
    fault = Fault(door=door, **vars(facts))
    sign(fault, corrects=None, reason="", by=entered_by, at=entered_at)
    fault.save()
    use_parts(
        door=door,
        parts=parts,
        used_at=fault.found_at,
        at_cycles=fault.at_cycles,
        entered_at=entered_at,
        entered_by=entered_by,
    )
    doors_changed([door.pk])
    return fault


@transaction.atomic
def correct_fault(
    *,
    fault: Fault,
    facts: FaultFacts,
    reason: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> Fault:
    """Put another account in a fault's place; the parts used and fitted stay as they are."""
    door = DoorUnit.objects.select_for_update().get(pk=fault.door_id)
    check_facts(door=door, facts=facts, entered_at=entered_at)
    supersede(fault, reason=reason, entered_at=entered_at)
    corrected = Fault(door=door, **vars(facts))
    sign(corrected, corrects=fault, reason=reason, by=entered_by, at=entered_at)
    corrected.save()
    doors_changed([door.pk])
    return corrected


def check_facts(*, door: DoorUnit, facts: FaultFacts, entered_at: datetime) -> None:
    """Raise FaultRefusedError when the account of a fault contradicts itself or the record."""
    if facts.found_at > entered_at + FUTURE_ALLOWED:
        raise FaultRefusedError(
            _("A fault is not dated more than a day ahead: %(moment)s is in the future.")
            % {"moment": in_words(facts.found_at)},
            field="found_at",
        )
    if not (facts.complaint or facts.component):
        raise FaultRefusedError(
            _("A fault says what was reported or which component it is; both are empty."),
            field="component",
        )
    mode = FAILURE_MODES.get(facts.mode)
    if mode and facts.component and mode.component != facts.component.code:
        raise FaultRefusedError(
            _("The failure mode must belong to the component: “%(mode)s” is not one of %(part)s.")
            % {"mode": mode.name, "part": facts.component},
            field="mode",
        )
    _check_off_road(facts)
    if facts.at_cycles is not None and facts.at_cycles < door.opening_cycles:
        raise FaultRefusedError(
            _("Cycles are lifetime cycles, at least the %(opening)d of the record's beginning.")
            % {"opening": door.opening_cycles},
            field="at_cycles",
        )


def _check_off_road(facts: FaultFacts) -> None:
    start, end = facts.off_road_from, facts.off_road_until
    if end and not start:
        raise FaultRefusedError(
            _("An end of the time off the road needs its beginning."), field="off_road_from"
        )
    if start and end and end < start:
        raise FaultRefusedError(
            _("The time off the road ends after it begins."), field="off_road_until"
        )


def _sent_twice(
    door: DoorUnit, facts: FaultFacts, entered_at: datetime, entered_by: User | None
) -> Fault | None:
    """The same account by the same person a moment ago: a form that was sent twice."""
    return (
        Fault.objects.in_force()
        .filter(door=door, entered_by=entered_by, entered_at__gt=entered_at - DOUBLE_SUBMIT)
        .filter(**vars(facts))
        .first()
    )


def _check_use(door: DoorUnit, use: PartUse) -> None:
    if use.quantity < 1:
        raise FaultRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered.") % {"quantity": use.quantity},
            field="parts",
        )
    objection = fuse_objection(part=use.part, door=door, position=use.position)
    if objection:
        raise FaultRefusedError(objection, field="parts")


def use_parts(
    *,
    door: DoorUnit,
    parts: Sequence[PartUse],
    used_at: datetime,
    at_cycles: int | None,
    entered_at: datetime,
    entered_by: User | None,
) -> None:
    """Draw parts from the stock of the door's depot, and change the fitted parts chosen.

    Call it inside the transaction that holds the door; the caller reports the door changed.
    """
    depot = present_depot(door)
    for use in parts:
        _check_use(door, use)
        used = PartUsed(
            door=door,
            used_at=used_at,
            part=use.part,
            quantity=use.quantity,
            depot=depot,
            draws_on_stock=depot is not None,
        )
        sign(used, corrects=None, reason="", by=entered_by, at=entered_at)
        used.save()
        book_use(used)
        if use.removal:
            change_part(
                door=door,
                part=use.part,
                position=use.position,
                removal=use.removal,
                changed_at=used_at,
                at_cycles=at_cycles,
                entered_at=entered_at,
            )
    use_up(door=door, parts=[use.part for use in parts], at=entered_at)
