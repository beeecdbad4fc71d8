"""What work took and costs: minutes of a visit, and an hour's price at a depot."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, User
from inspections.models import MOST_MINUTES, LabourRate, Visit, VisitMinutes, VisitState
from inspections.services.corrections import CorrectionRefusedError, sign, supersede

# A visit open for longer was left open overnight: its span says nothing of the work.
LONGEST_SPAN_MINUTES = 12 * 60


Kept = TypeVar("Kept", VisitMinutes, LabourRate)


class LabourRefusedError(ValueError):
    """The minutes or the price cannot be taken; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


def minutes_open(visit: Visit, *, now: datetime) -> int | None:
    """Minutes from the visit's beginning to its end, or until now; None where they mislead."""
    if visit.started_at is None:
        return None
    minutes = round(((visit.closed_at or now) - visit.started_at).total_seconds() / 60)
    return minutes if 1 <= minutes <= LONGEST_SPAN_MINUTES else None


@transaction.atomic
def note_minutes(
    *, visit: Visit, minutes: int, entered_at: datetime, entered_by: User, reason: str = ""
) -> VisitMinutes:
    """Keep how long a visit took; said again with a reason, the later word holds."""
    DoorUnit.objects.select_for_update().get(pk=visit.door_id)
    if visit.state not in (VisitState.OPEN, VisitState.CLOSED):
        raise LabourRefusedError(_("Only a visit that was begun took any minutes."))
    if not 1 <= minutes <= MOST_MINUTES:
        raise LabourRefusedError(
            _("A visit takes 1 to %(most)d minutes of work: %(minutes)d were entered.")
            % {"most": MOST_MINUTES, "minutes": minutes},
            field="minutes",
        )
    before = VisitMinutes.objects.in_force().filter(visit=visit).first()
    if before is not None and before.minutes == minutes:
        return before
    return _written(
        VisitMinutes(visit=visit, minutes=minutes), before, reason, entered_at, entered_by
    )


@transaction.atomic
def set_rate(
    *,
    depot: Depot,
    from_on: date,
    per_hour: Decimal,
    currency: str,
    entered_at: datetime,
    entered_by: User,
    reason: str = "",
) -> LabourRate:
    """Keep an hour's price at a depot from a day on; said again for the day with a reason."""
    Depot.objects.select_for_update().get(pk=depot.pk)
    if per_hour < 0:
        raise LabourRefusedError(_("An hour does not cost less than nothing."), field="per_hour")
    currency = currency_of(currency)
    before = LabourRate.objects.in_force().filter(depot=depot, from_on=from_on).first()
    if before is not None and (before.per_hour, before.currency) == (per_hour, currency):
        return before
    rate = LabourRate(depot=depot, from_on=from_on, per_hour=per_hour, currency=currency)
    return _written(rate, before, reason, entered_at, entered_by)


def currency_of(typed: str) -> str:
    """A currency's three letters; raises LabourRefusedError for anything else."""
    currency = typed.strip().upper()
    if len(currency) != 3 or not (currency.isascii() and currency.isalpha()):
        raise LabourRefusedError(
            _("A currency is three letters, such as USD: “%(typed)s” was entered.")
            % {"typed": typed},
            field="currency",
        )
    return currency


def _written(row: Kept, before: Kept | None, reason: str, at: datetime, by: User) -> Kept:
    """Save the row, in place of the one before where there is one."""
    if before is not None:
        try:
            supersede(before, reason=reason, entered_at=at)
        except CorrectionRefusedError as refused:
            raise LabourRefusedError(str(refused), field="reason") from refused
    sign(row, corrects=before, reason=reason, by=by, at=at)
    row.save()
    return row
