"""From the form of a driver's report to the report kept, with its photo."""

from __future__ import annotations

from django.utils import timezone

from fleetdoors.models import DoorUnit, User
from inspections.forms.defect import DefectForm
from inspections.models import DefectReport
from inspections.services.attachments import keep_photo
from inspections.services.defects import DefectRefusedError, TooManyReportsError, report_defect


def kept_report(
    door: DoorUnit, form: DefectForm, *, reported_by: User | None
) -> DefectReport | None:
    """The report on record, or None with the form saying why not."""
    now, cleaned = timezone.now(), form.cleaned_data
    try:
        report = report_defect(
            door=door,
            complaint=cleaned["complaint"],
            words=cleaned["words"],
            reporter=cleaned["reporter"],
            reported_at=now,
            entered_at=now,
            entered_by=reported_by,
        )
    except DefectRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return None
    except TooManyReportsError as refused:
        form.add_error(None, str(refused))
        return None
    if cleaned["photo"]:
        keep_photo(
            photo=cleaned["photo"],
            report=report,
            taken_at=now,
            entered_at=now,
            entered_by=reported_by,
        )
    return report
