"""A visit is closed: parts, fitted parts, faults, tasks, reports and the sign-off in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, MaintenanceTask, User
from fleetdoors.services.recomputation import doors_changed
from inspections.models import (
    CounterReading,
    DefectReport,
    DefectState,
    Fault,
    JobOutcome,
    Repair,
    Visit,
    VisitState,
)
from inspections.services.closing_rules import (
    JobClosing,
    check_final,
    check_jobs,
    check_visit,
    task_of,
)
from inspections.services.corrections import CorrectionRefusedError, history_of, sign
from inspections.services.defects import NEXT_STEPS, DefectRefusedError, take_step
from inspections.services.faults import FaultFacts, FaultRefusedError, correct_fault, use_parts
from inspections.services.fitting import FittingRefusedError
from inspections.services.follow_ups import answer_follow_up
from inspections.services.labour import LabourRefusedError, note_minutes
from inspections.services.reservations import end_with_visit
from inspections.services.tasks_done import TaskDoneRefusedError, WorkDone, record_task_done
from inspections.services.visits import VisitRefusedError, locked

REPEAT_WITHIN = timedelta(days=30)
# What a passed final check does along the way.
CHECK_DOES, CHECK_DOES_WITH_READING = "REV", "CTR"


@dataclass(frozen=True)
class SignOff:
    """Who closes a visit, by which name, when, and how long it took where that is said."""

    signed_by: str
    closed_at: datetime
    entered_at: datetime
    entered_by: User
    minutes: int | None = None


@transaction.atomic
def close_visit(
    *,
    visit: Visit,
    closings: Sequence[JobClosing],
    sign_off: SignOff,
) -> Visit:
    """Close a visit whole or not at all; closed twice by the same name, it is closed once."""
    visit = locked(visit)
    signed_by = sign_off.signed_by.strip()
    if visit.state == VisitState.CLOSED and visit.signed_by == signed_by:
        return visit
    check_visit(visit, signed_by, sign_off.closed_at)
    check_jobs(visit, closings)
    check_final(visit, closings)
    for closing in closings:
        try:
            _close_job(closing, sign_off)
        except (
            FaultRefusedError,
            FittingRefusedError,
            TaskDoneRefusedError,
            CorrectionRefusedError,
            DefectRefusedError,
        ) as refused:
            raise VisitRefusedError(
                _("%(job)s: %(why)s") % {"job": closing.job, "why": refused},
                field=f"job-{closing.job.pk}",
            ) from refused
    _count_final_check(visit, sign_off)
    visit.state, visit.closed_at, visit.signed_by = (
        VisitState.CLOSED,
        sign_off.closed_at,
        signed_by,
    )
    visit.save(update_fields=("state", "closed_at", "signed_by"))
    _note_minutes(visit, sign_off)
    end_with_visit(visit=visit, at=sign_off.entered_at)
    doors_changed([visit.door_id])
    return visit


def _note_minutes(visit: Visit, sign_off: SignOff) -> None:
    if sign_off.minutes is None:
        return
    try:
        note_minutes(
            visit=visit,
            minutes=sign_off.minutes,
            entered_at=sign_off.entered_at,
            entered_by=sign_off.entered_by,
        )
    except LabourRefusedError as refused:
        raise VisitRefusedError(str(refused), field=refused.field) from refused


def repeats_of(*, door: DoorUnit, faults: Sequence[Fault]) -> list[Fault]:
    """Faults alike on the door within 30 days before one of these; queries once."""
    if not faults:
        return []
    earliest = min(fault.found_at for fault in faults) - REPEAT_WITHIN
    before = Fault.objects.in_force().filter(door=door, found_at__gte=earliest)
    return [
        other
        for other in before.select_related("component").newest_first()
        if any(_repeats(fault, other) for fault in faults)
    ]


def _repeats(fault: Fault, other: Fault) -> bool:
    """Whether the other was the same component, or else complaint, not long before."""
    alike = (
        other.component_id == fault.component_id
        if fault.component_id
        else other.complaint == fault.complaint
    )
    return alike and fault.found_at - REPEAT_WITHIN <= other.found_at < fault.found_at


def _close_job(closing: JobClosing, sign_off: SignOff) -> None:
    job = closing.job
    job.outcome, job.reason = closing.outcome, closing.reason.strip()[:200]
    if closing.outcome == JobOutcome.DONE:
        # What an inspection has marked as done was done then.
        job.done_at = job.done_at or closing.done_at or sign_off.closed_at
        _do(closing, job.done_at, sign_off)
    job.save()


def _do(closing: JobClosing, done_at: datetime, sign_off: SignOff) -> None:
    job = closing.job
    if task := task_of(job):
        job.task_done = record_task_done(
            door=job.visit.door,
            work=WorkDone(task=task, done_at=done_at, done_by=sign_off.signed_by.strip()[:100]),
            entered_at=sign_off.entered_at,
            entered_by=sign_off.entered_by,
        )
        if job.follow_up:
            answer_follow_up(
                follow_up=job.follow_up, done=job.task_done, entered_at=sign_off.entered_at
            )
    elif job.fault:
        # A fault corrected since the visit was planned is closed as it stands now.
        job.fault = _repair(closing, history_of(job.fault)[0], done_at, sign_off)
    elif job.defect_report:
        _report_repaired(job.defect_report, done_at, sign_off)
    use_parts(
        door=job.visit.door,
        parts=closing.parts,
        used_at=done_at,
        at_cycles=None,
        entered_at=sign_off.entered_at,
        entered_by=sign_off.entered_by,
    )


def _report_repaired(report: DefectReport, done_at: datetime, sign_off: SignOff) -> None:
    if DefectState.REPAIRED not in NEXT_STEPS[report.state]:
        return
    take_step(
        report=report,
        kind=DefectState.REPAIRED,
        taken_at=done_at,
        name=sign_off.signed_by,
        role=sign_off.entered_by.get_role_display(),
        entered_at=sign_off.entered_at,
        entered_by=sign_off.entered_by,
    )


def _repair(closing: JobClosing, fault: Fault, done_at: datetime, sign_off: SignOff) -> Fault:
    """The fault as it stands after the repair, and what is said of its causes."""
    facts = FaultFacts(
        found_at=fault.found_at,
        at_cycles=fault.at_cycles,
        component=closing.component or fault.component,
        mode=closing.mode or fault.mode,
        complaint=fault.complaint,
        detected_by=fault.detected_by,
        is_failure=fault.is_failure,
        action=closing.action,
        off_road_from=closing.off_road_from or fault.off_road_from,
        off_road_until=closing.off_road_until or fault.off_road_until,
        note=fault.note,
    )
    repaired = correct_fault(
        fault=fault,
        facts=facts,
        reason=_("repaired"),
        entered_at=sign_off.entered_at,
        entered_by=sign_off.entered_by,
    )
    repair = Repair(
        fault=repaired,
        visit=closing.job.visit,
        mechanism=closing.mechanism,
        cause=closing.cause,
        repaired_at=done_at,
    )
    sign(repair, corrects=None, reason="", by=sign_off.entered_by, at=sign_off.entered_at)
    repair.save()
    return repaired


def _count_final_check(visit: Visit, sign_off: SignOff) -> None:
    """The final check is also the obstruction test, and with a reading the counter's."""
    last = visit.final_checks.newest_first().first()
    if last is None or not last.has_passed:
        return
    codes = [CHECK_DOES]
    read = CounterReading.objects.in_force().filter(door_id=visit.door_id)
    if read.filter(read_at__gte=visit.started_at).exists():
        codes.append(CHECK_DOES_WITH_READING)
    for task in MaintenanceTask.objects.filter(code__in=codes).order_by("code"):
        record_task_done(
            door=visit.door,
            work=WorkDone(
                task=task,
                done_at=last.checked_at,
                done_by=sign_off.signed_by.strip()[:100],
            ),
            entered_at=sign_off.entered_at,
            entered_by=sign_off.entered_by,
        )
