"""A call from the road becomes a driver's report, and where it must a hold."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from inspections.models import DefectReport, HoldReason, RoadHold
from inspections.services.defects import report_defect
from inspections.services.holds import place_hold


@dataclass(frozen=True)
class Call:
    """What a driver said on the telephone."""

    reporter: str
    complaint: str
    call_back: str
    where: str
    words: str
    can_be_secured: bool | None
    is_damaged: bool


@dataclass(frozen=True)
class CallTaken:
    """The report on record, and the hold that the answers asked for."""

    report: DefectReport
    hold: RoadHold | None


@transaction.atomic
def take_call(*, door: DoorUnit, call: Call, taken_at: datetime, taken_by: User) -> CallTaken:
    """Keep the call; a door that cannot be secured, or is damaged, keeps the truck."""
    report = report_defect(
        door=door,
        complaint=call.complaint,
        words=_told(call),
        reporter=call.reporter,
        reported_at=taken_at,
        entered_at=taken_at,
        entered_by=taken_by,
    )
    because = _because(call)
    if because is None:
        return CallTaken(report, None)
    hold = place_hold(
        door=door,
        because=because,
        detail=_("told on the telephone by %(name)s") % {"name": call.reporter},
        placed_at=taken_at,
        entered_at=taken_at,
        placed_by=taken_by,
    )
    return CallTaken(report, hold)


def _because(call: Call) -> str | None:
    if call.is_damaged:
        return HoldReason.SPRING_OR_CABLE
    return HoldReason.NOT_SECURED if call.can_be_secured is False else None


def _told(call: Call) -> str:
    """Words, place and number in lines of their own."""
    lines = [call.words.strip()]
    if call.where.strip():
        lines.append(_("Where: %(where)s") % {"where": call.where.strip()})
    if call.call_back.strip():
        lines.append(_("Call back: %(number)s") % {"number": call.call_back.strip()})
    return "\n".join(line for line in lines if line)
