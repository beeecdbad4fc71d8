"""Visits are planned, opened, handed over, and end where the truck did not come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, MaintenanceTask, Mounting, User
from inspections.models import (
    DefectReport,
    Fault,
    FollowUp,
    JobKind,
    JobOutcome,
    Visit,
    VisitJob,
    VisitState,
)
from inspections.services.reservations import end_with_visit, keep_for_visit


class VisitRefusedError(ValueError):
    """The visit cannot go on as asked; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Jobs:
    """What a visit is for."""

    tasks: Sequence[MaintenanceTask] = ()
    faults: Sequence[Fault] = ()
    follow_ups: Sequence[FollowUp] = ()
    defect_reports: Sequence[DefectReport] = ()


@transaction.atomic
def plan_visit(
    *,
    door: DoorUnit,
    planned_on: date,
    jobs: Jobs,
    entered_at: datetime,
    entered_by: User | None = None,
    technician: User | None = None,
) -> Visit:
    """Plan a visit; a second plan for the same door and day adds its jobs to the first."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    mounting = Mounting.objects.open().filter(door=door).select_related("truck__depot").first()
    truck = mounting.truck if mounting else None
    visit, _made = Visit.objects.get_or_create(
        door=door,
        planned_on=planned_on,
        state=VisitState.PLANNED,
        defaults={
            "truck": truck,
            "depot": truck.depot if truck else None,
            "technician": technician,
            "entered_at": entered_at,
            "entered_by": entered_by,
        },
    )
    _add(visit, jobs)
    keep_for_visit(visit=visit, faults=jobs.faults, at=entered_at, by=entered_by)
    return visit


@transaction.atomic
def open_visit(*, visit: Visit, technician: User, started_at: datetime) -> Visit:
    """Begin a planned visit; begun twice, it is begun once."""
    visit = _as_planned_now(locked(visit))
    if visit.state == VisitState.OPEN:
        return visit
    if visit.state != VisitState.PLANNED:
        raise VisitRefusedError(
            _("Only a planned visit is begun: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    other = Visit.objects.filter(door_id=visit.door_id, state=VisitState.OPEN).first()
    if other:
        raise VisitRefusedError(
            _("A door has one open visit at a time: that of %(day)s is open, with %(person)s.")
            % {"day": other.planned_on, "person": other.technician or _("nobody")}
        )
    visit.state, visit.started_at, visit.technician = VisitState.OPEN, started_at, technician
    visit.save()
    return visit


@transaction.atomic
def add_jobs(*, visit: Visit, jobs: Jobs) -> Visit:
    """Add jobs to a visit that is still to do; one that it has already stays as it is."""
    visit = locked(visit)
    if visit.state not in (VisitState.PLANNED, VisitState.OPEN):
        raise VisitRefusedError(
            _("A visit that has ended takes no more jobs: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    _add(visit, jobs)
    return visit


@transaction.atomic
def hand_over_visit(*, visit: Visit, to_person: User, note: str, handed_at: datetime) -> Visit:
    """Pass an open visit to the next person, with a word on where it stands."""
    visit = locked(visit)
    if visit.state != VisitState.OPEN:
        raise VisitRefusedError(
            _("Only an open visit is handed over: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    if visit.technician_id == to_person.pk:
        raise VisitRefusedError(
            _("%(person)s has this visit already.") % {"person": to_person}, field="to_person"
        )
    visit.handovers.create(
        from_person=visit.technician, to_person=to_person, note=note.strip(), handed_at=handed_at
    )
    visit.technician = to_person
    visit.save(update_fields=("technician",))
    return visit


@transaction.atomic
def mark_not_presented(
    *,
    visit: Visit,
    reason: str,
    again_on: date | None,
    entered_at: datetime,
    entered_by: User | None = None,
) -> Visit | None:
    """Say that the truck did not come; with a day, the same jobs are planned for it."""
    visit = locked(visit)
    if visit.state != VisitState.PLANNED:
        raise VisitRefusedError(
            _("Only a planned visit can fail to come: this one is “%(state)s”.")
            % {"state": visit.get_state_display()}
        )
    if not reason.strip():
        raise VisitRefusedError(_("Say why the truck did not come."), field="reason")
    if again_on and again_on < visit.planned_on:
        raise VisitRefusedError(
            _("A visit is planned anew for a later day: %(day)s is before %(planned)s.")
            % {"day": again_on, "planned": visit.planned_on},
            field="again_on",
        )
    visit.state, visit.reason = VisitState.NOT_PRESENTED, reason.strip()[:200]
    visit.save(update_fields=("state", "reason"))
    end_with_visit(visit=visit, at=entered_at)
    if again_on is None:
        return None
    return plan_visit(
        door=visit.door,
        planned_on=again_on,
        jobs=_left_over(visit),
        entered_at=entered_at,
        entered_by=entered_by,
        technician=visit.technician,
    )


def locked(visit: Visit) -> Visit:
    """The visit as it stands now, its door kept from others until the transaction ends."""
    DoorUnit.objects.select_for_update().get(pk=visit.door_id)
    return Visit.objects.with_links().get(pk=visit.pk)


def _as_planned_now(visit: Visit) -> Visit:
    """The visit itself; for one taken off the plan, what a plan put in its place that day."""
    if visit.state != VisitState.DROPPED:
        return visit
    anew = Visit.objects.with_links().filter(
        door_id=visit.door_id, planned_on=visit.planned_on, state=VisitState.PLANNED
    )
    return anew.first() or visit


def _left_over(visit: Visit) -> Jobs:
    jobs = visit.jobs.exclude(outcome=JobOutcome.DONE).select_related(
        "task", "fault", "follow_up", "defect_report"
    )
    return Jobs(
        tasks=[job.task for job in jobs if job.task],
        faults=[job.fault for job in jobs if job.fault],
        follow_ups=[job.follow_up for job in jobs if job.follow_up],
        defect_reports=[job.defect_report for job in jobs if job.defect_report],
    )


def _add(visit: Visit, jobs: Jobs) -> None:
    for task in jobs.tasks:
        VisitJob.objects.get_or_create(visit=visit, kind=JobKind.TASK, task=task)
    for fault in jobs.faults:
        _belongs(visit, fault.door_id)
        VisitJob.objects.get_or_create(visit=visit, kind=JobKind.FAULT, fault=fault)
    for follow_up in jobs.follow_ups:
        _belongs(visit, follow_up.door_id)
        VisitJob.objects.get_or_create(visit=visit, kind=JobKind.FOLLOW_UP, follow_up=follow_up)
    for report in jobs.defect_reports:
        _belongs(visit, report.door_id)
        VisitJob.objects.get_or_create(visit=visit, kind=JobKind.DEFECT, defect_report=report)


def _belongs(visit: Visit, door_id: int) -> None:
    if door_id != visit.door_id:
        raise VisitRefusedError(
            _("A job belongs to the door of its visit, %(door)s.") % {"door": visit.door}
        )
