"""Visits that came out on another night than planned, and why they did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, User
from inspections.models import OffPlanCause, OffPlanKind, OffPlanReason, Visit, VisitState

LOOK_BACK = timedelta(weeks=4)
# A night begins on its day and may last past midnight.
MIDNIGHT = timedelta(days=1)


class ReasonRefusedError(ValueError):
    """The reason cannot be taken as it is; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class OffPlan:
    """A visit and how it came out."""

    visit: Visit
    kind: OffPlanKind


def how_it_came_out(visit: Visit) -> OffPlanKind | None:
    """Early, late or not at all; None for a visit done in its night or not ended."""
    if visit.state == VisitState.NOT_PRESENTED:
        return OffPlanKind.NOT_PRESENTED
    if visit.state != VisitState.CLOSED or visit.started_at is None:
        return None
    zone = visit.depot.zone if visit.depot else None
    begun_on = timezone.localdate(visit.started_at, zone)
    if begun_on < visit.planned_on:
        return OffPlanKind.EARLY
    return OffPlanKind.LATE if begun_on > visit.planned_on + MIDNIGHT else None


def without_reason(depot: Depot, *, today: date) -> Sequence[OffPlan]:
    """Visits of the last four weeks that went another way and of which nobody said why."""
    ended = Visit.objects.ended_without_reason(depot, today - LOOK_BACK)
    found = ((visit, how_it_came_out(visit)) for visit in ended)
    return [OffPlan(visit, kind) for visit, kind in found if kind is not None]


@transaction.atomic
def give_reason(
    *, visit: Visit, cause: str, note: str, entered_at: datetime, entered_by: User
) -> OffPlanReason:
    """Say why a visit was not done in its night; said again, the later reason holds."""
    DoorUnit.objects.select_for_update().get(pk=visit.door_id)
    kind = how_it_came_out(visit)
    if kind is None:
        raise ReasonRefusedError(_("This visit was done in its night, or has not ended."))
    if cause not in OffPlanCause.values:
        raise ReasonRefusedError(_("Choose one of the reasons."), field="cause")
    if cause == OffPlanCause.OTHER and not note.strip():
        raise ReasonRefusedError(_("Say what the other reason was."), field="note")
    OffPlanReason.objects.in_force().filter(visit=visit).update(superseded_at=entered_at)
    return OffPlanReason.objects.create(
        visit=visit,
        kind=kind,
        cause=cause,
        note=note.strip()[:200],
        entered_at=entered_at,
        entered_by=entered_by,
    )
