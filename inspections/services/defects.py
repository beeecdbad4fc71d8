"""Drivers' reports: reported, looked at, repaired or unnecessary, signed off, acknowledged."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Mounting, User
from inspections.codes import Complaint
from inspections.models import DefectReport, DefectState, DefectStep, Fault

SAME_REPORT = timedelta(minutes=10)
ALIKE = timedelta(days=7)
# Strangers' reports, so that nobody can drown a depot from the code on one door.
MOST_AN_HOUR_ON_A_DOOR, MOST_AN_HOUR_IN_ALL = 6, 120

NEXT_STEPS: dict[str, tuple[str, ...]] = {
    DefectState.REPORTED: (
        DefectState.ASSESSED,
        DefectState.REPAIR_PLANNED,
        DefectState.REPAIRED,
        DefectState.UNNECESSARY,
    ),
    DefectState.ASSESSED: (
        DefectState.REPAIR_PLANNED,
        DefectState.REPAIRED,
        DefectState.UNNECESSARY,
    ),
    DefectState.REPAIR_PLANNED: (DefectState.REPAIRED, DefectState.UNNECESSARY),
    DefectState.REPAIRED: (DefectState.CERTIFIED,),
    DefectState.UNNECESSARY: (DefectState.CERTIFIED,),
    DefectState.CERTIFIED: (DefectState.ACKNOWLEDGED,),
    DefectState.ACKNOWLEDGED: (),
}


class DefectRefusedError(ValueError):
    """The report or step cannot be taken; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


class TooManyReportsError(ValueError):
    """So many reports came in without an account that more are refused for now."""


@transaction.atomic
def report_defect(
    *,
    door: DoorUnit,
    complaint: str,
    words: str,
    reporter: str,
    reported_at: datetime,
    entered_at: datetime,
    entered_by: User | None = None,
) -> DefectReport:
    """Keep a driver's report; it raises a question and stops no truck by itself.

    The same report by the same name a moment ago is a form that was sent twice.
    """
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    _check_report(complaint, reporter)
    same = DefectReport.objects.filter(
        door=door,
        complaint=complaint,
        words=words.strip(),
        reporter=reporter.strip(),
        entered_at__gt=entered_at - SAME_REPORT,
    ).first()
    if same:
        return same
    if entered_by is None:
        _check_rate(door, entered_at)
    mounting = Mounting.objects.open().filter(door=door).first()
    return DefectReport.objects.create(
        door=door,
        truck=mounting.truck if mounting else None,
        complaint=complaint,
        words=words.strip(),
        reporter=reporter.strip(),
        reported_at=reported_at,
        entered_at=entered_at,
        entered_by=entered_by,
    )


@transaction.atomic
def take_step(
    *,
    report: DefectReport,
    kind: str,
    taken_at: datetime,
    name: str,
    entered_at: datetime,
    role: str = "",
    reason: str = "",
    fault: Fault | None = None,
    entered_by: User | None = None,
) -> DefectStep:
    """Carry a report on by one step; the same step twice is taken once."""
    DoorUnit.objects.select_for_update().get(pk=report.door_id)
    report = DefectReport.objects.get(pk=report.pk)
    last = report.steps.order_by("-taken_at", "-pk").first()
    if last and report.state == kind == last.kind:
        return last
    _check_step(report, kind, name, reason, entered_by)
    step = DefectStep.objects.create(
        report=report,
        kind=kind,
        taken_at=taken_at,
        name=name.strip(),
        role=role.strip(),
        reason=reason.strip(),
        fault=fault,
        entered_at=entered_at,
        entered_by=entered_by,
    )
    report.state = kind
    report.save(update_fields=("state",))
    return step


def alike(*, door: DoorUnit, complaint: str, as_of: datetime) -> list[DefectReport]:
    """Reports of the same complaint on the door these seven days that nobody has signed off."""
    recent = DefectReport.objects.unanswered().filter(door=door, complaint=complaint)
    return list(recent.filter(reported_at__gt=as_of - ALIKE))


def _check_report(complaint: str, reporter: str) -> None:
    if complaint not in Complaint.values:
        raise DefectRefusedError(
            _("Say what the door does: “%(complaint)s” is none of the choices.")
            % {"complaint": complaint},
            field="complaint",
        )
    if not reporter.strip():
        raise DefectRefusedError(_("A report carries a name: it is empty."), field="reporter")


def _check_step(
    report: DefectReport, kind: str, name: str, reason: str, entered_by: User | None
) -> None:
    if kind not in NEXT_STEPS[report.state]:
        raise DefectRefusedError(
            _("From “%(state)s” a report does not go to “%(kind)s”.")
            % {
                "state": report.get_state_display(),
                "kind": DefectState(kind).label if kind in DefectState.values else kind,
            },
            field="kind",
        )
    if not name.strip():
        raise DefectRefusedError(_("A step carries a name: it is empty."), field="name")
    if kind == DefectState.UNNECESSARY and not reason.strip():
        raise DefectRefusedError(
            _("A repair is judged unnecessary with a reason: it is empty."), field="reason"
        )
    if kind != DefectState.ACKNOWLEDGED and entered_by is None:
        raise DefectRefusedError(_("Only acknowledging a report needs no account."), field="kind")


def _check_rate(door: DoorUnit, entered_at: datetime) -> None:
    strangers = DefectReport.objects.filter(
        entered_by__isnull=True, entered_at__gt=entered_at - timedelta(hours=1)
    )
    if (
        strangers.filter(door=door).count() >= MOST_AN_HOUR_ON_A_DOOR
        or strangers.count() >= MOST_AN_HOUR_IN_ALL
    ):
        raise TooManyReportsError(
            _("Many reports came in this hour. Nothing was saved; please tell the depot directly.")
        )
