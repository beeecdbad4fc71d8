"""The final check of a visit is recorded; a failed one stays and is followed by another."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import FinalCheck, RoadHold, Visit, VisitState
from inspections.services.visits import VisitRefusedError, locked


@transaction.atomic
def record_final_check(
    *,
    visit: Visit,
    items: Mapping[str, bool],
    checked_at: datetime,
    checked_by: User,
    entered_at: datetime,
    note: str = "",
) -> FinalCheck:
    """Keep what the door did at the end; the same check at the same moment is one."""
    visit = locked(visit)
    if visit.state != VisitState.OPEN:
        raise VisitRefusedError(
            _("A final check belongs to an open visit: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    hold = RoadHold.objects.forbid_power(visit.door).first()
    if hold:
        raise VisitRefusedError(
            _("The door is not run while a hold stands: %(because)s. First a trained person signs.")
            % {"because": hold.get_because_display()}
        )
    if set(items) != set(FinalCheck.ITEMS):
        raise VisitRefusedError(_("Every item of the final check is answered."))
    existing = visit.final_checks.filter(checked_at=checked_at, checked_by=checked_by).first()
    if existing:
        return existing
    return FinalCheck.objects.create(
        visit=visit,
        checked_at=checked_at,
        checked_by=checked_by,
        entered_at=entered_at,
        note=note.strip(),
        **items,
    )
