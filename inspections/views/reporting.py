"""From the form of a driver's report to the report kept, with its photo."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from fleetdoors.models import DoorUnit, User
from inspections.forms.defect import DefectForm
from inspections.models import DefectReport
from inspections.services.attachments import Received, keep_photo
from inspections.services.defects import DefectRefusedError, TooManyReportsError, report_defect


def kept_report(
    door: DoorUnit, form: DefectForm, *, reported_by: User | None
) -> DefectReport | None:
    """The report on record, or None with the form saying why not."""
    now = timezone.now()
    try:
        return _keep(door, form, reported_by, now)
    except DefectRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
    except TooManyReportsError as refused:
        form.add_error(None, str(refused))
    return None


def _keep(door: DoorUnit, form: DefectForm, by: User | None, now: datetime) -> DefectReport:
    cleaned = form.cleaned_data
    report = report_defect(
        door=door,
        complaint=cleaned["complaint"],
        words=cleaned["words"],
        reporter=cleaned["reporter"],
        reported_at=now,
        entered_at=now,
        entered_by=by,
    )
    if photo := cleaned["photo"]:
        received = Received(taken_at=now, entered_at=now, entered_by=by)
        keep_photo(shows=report, content=photo.read(), received=received)
    return report
