"""What has to stand before a visit is closed: ticks, jobs told, and the final check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext as _

from fleetdoors.models import Component, MaintenanceTask, TaskKind
from inspections.models import JobKind, JobOutcome, RoadHold, Visit, VisitJob, VisitState
from inspections.moments import in_words
from inspections.services.faults import PartUse
from inspections.services.safety import SPRING_COMPONENTS, SPRING_FOLLOW_UPS, missing_ticks
from inspections.services.visits import VisitRefusedError

# Work on these is not closed without a final check that passed, whatever else stands.
CHECKED_COMPONENTS = (*SPRING_COMPONENTS, "turnbuckle", "open_sensor", "closed_sensor")
CHECKED_TASKS = (*SPRING_FOLLOW_UPS, "SEN")
CHECKED_VERDICTS = ("V32", "V33", "V34", "V36", "V40", "V41", "V43", "V90")
# Nothing on the door was touched.
UNTOUCHED = (TaskKind.DATA, TaskKind.CLEANING)


@dataclass(frozen=True)
class JobClosing:
    """What became of one job; the codes are for a fault, no `done_at` = when the visit closes."""

    job: VisitJob
    outcome: str
    reason: str = ""
    done_at: datetime | None = None
    component: Component | None = None
    mode: str = ""
    action: str = ""
    mechanism: str = ""
    cause: str = ""
    off_road_from: datetime | None = None
    off_road_until: datetime | None = None
    parts: Sequence[PartUse] = field(default=())


def task_of(job: VisitJob) -> MaintenanceTask | None:
    """The preventive task that the job does, also as a follow-up."""
    return job.follow_up.task if job.follow_up else job.task


def check_visit(visit: Visit, signed_by: str, closed_at: datetime) -> None:
    """Raise VisitRefusedError for a visit that cannot be closed, or a tick forgotten; queries."""
    if visit.state != VisitState.OPEN:
        raise VisitRefusedError(
            _("Only an open visit is closed: this one is “%(state)s”%(by)s.")
            % {
                "state": visit.get_state_display(),
                "by": f", {visit.signed_by}" if visit.signed_by else "",
            }
        )
    if not signed_by.strip():
        raise VisitRefusedError(
            _("A visit is closed by name: the sign-off is empty."), field="signed_by"
        )
    if visit.started_at and closed_at < visit.started_at:
        raise VisitRefusedError(
            _("A visit ends after it began, at %(moment)s.")
            % {"moment": in_words(visit.started_at)},
            field="closed_at",
        )
    missing = missing_ticks(visit)
    if missing:
        raise VisitRefusedError(
            _("No safety tick is forgotten: %(count)d of this visit are open.")
            % {"count": len(missing)},
            field="ticks",
        )


def check_jobs(visit: Visit, closings: Sequence[JobClosing]) -> None:
    """Raise VisitRefusedError where a job is forgotten or half told; queries."""
    told = {closing.job.pk for closing in closings}
    if any(closing.job.visit_id != visit.pk for closing in closings):
        raise VisitRefusedError(_("A job is closed with its own visit."))
    for job in visit.jobs.all():
        if job.pk not in told:
            raise VisitRefusedError(
                _("Say of each job what became of it: %(job)s is open.") % {"job": job},
                field=f"job-{job.pk}",
            )
    for closing in closings:
        _check_closing(closing)


def _check_closing(closing: JobClosing) -> None:
    name = f"job-{closing.job.pk}"
    if closing.outcome not in JobOutcome.values:
        raise VisitRefusedError(
            _("A job is done or not done: %(job)s.") % {"job": closing.job}, field=name
        )
    if closing.outcome == JobOutcome.NOT_DONE and closing.job.outcome == JobOutcome.DONE:
        raise VisitRefusedError(
            _("%(job)s is on record as done by an inspection: correct that entry first.")
            % {"job": closing.job},
            field=name,
        )
    if closing.outcome == JobOutcome.NOT_DONE and not closing.reason.strip():
        raise VisitRefusedError(
            _("A job that was not done says why: %(job)s.") % {"job": closing.job}, field=name
        )
    is_fault = closing.job.kind == JobKind.FAULT and closing.outcome == JobOutcome.DONE
    if is_fault and not closing.action:
        raise VisitRefusedError(
            _("A fault is closed with what was done: %(job)s.") % {"job": closing.job}, field=name
        )


def check_final(visit: Visit, closings: Sequence[JobClosing]) -> None:
    """Work on the door ends with a final check that passed, or under a hold that stands."""
    done = [closing for closing in closings if closing.outcome == JobOutcome.DONE]
    if not any(touches_the_door(closing.job) for closing in done):
        return
    last = visit.final_checks.newest_first().first()
    if last and last.has_passed:
        return
    traced = visit.traces.filter(verdict__in=CHECKED_VERDICTS).exists()
    always = traced or any(is_always_checked(closing) for closing in done)
    if always or not RoadHold.objects.standing().filter(door_id=visit.door_id).exists():
        raise VisitRefusedError(
            _("This work is not closed before the final check has passed."), field="final_check"
        )


def touches_the_door(job: VisitJob) -> bool:
    """Whether the job, once done, ends with a final check."""
    return not (job.task and job.task.kind in UNTOUCHED)


def is_always_checked(closing: JobClosing) -> bool:
    """Whether no hold lets this work end without the check."""
    job = closing.job
    if task := task_of(job):
        return task.code in CHECKED_TASKS
    component = closing.component or (job.fault.component if job.fault else None)
    return bool(component and component.code in CHECKED_COMPONENTS)
