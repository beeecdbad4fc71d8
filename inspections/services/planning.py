"""Accepting a plan, taking it back, and the nights that a person chooses."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from hashlib import sha256

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, User
from fleetdoors.templatetags.units import short_day
from inspections.models import (
    JobKind,
    NightChoice,
    PlanAcceptance,
    PlanChange,
    PlanStep,
    Visit,
    VisitJob,
    VisitState,
)
from inspections.services.plan_changes import Change, PlannedVisit, WantedVisit, changes_between

TARGETS = {
    JobKind.TASK: "task_id",
    JobKind.FAULT: "fault_id",
    JobKind.FOLLOW_UP: "follow_up_id",
    JobKind.DEFECT: "defect_report_id",
}


class PlanRefusedError(ValueError):
    """The plan cannot be accepted or taken back as asked."""


@dataclass(frozen=True)
class AcceptedPlan:
    """What is accepted: a depot's nights with their visits, and why each change is made."""

    depot: Depot
    first_on: date
    last_on: date
    wanted: Sequence[WantedVisit]
    why: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class TakenBack:
    """What came of taking a plan back: visits put back, and those begun since and left alone."""

    put_back: int
    left_alone: Sequence[Visit]


@transaction.atomic
def accept_plan(
    *, plan: AcceptedPlan, seen: str, accepted_at: datetime, accepted_by: User
) -> PlanAcceptance:
    """Make the planned visits of a depot's nights those of the plan; others stay as they are.

    `seen` is the mark of what was planned when the plan was made: a plan is never laid over
    visits that its planner has not seen.
    """
    Depot.objects.select_for_update().get(pk=plan.depot.pk)
    planned = planned_visits(plan.depot, until=plan.last_on)
    if mark_of(planned) != seen:
        raise PlanRefusedError(
            _(
                "Visits were planned, moved or begun since this plan was worked out. Nothing was "
                "changed; propose a plan anew to see them in it."
            )
        )
    acceptance = PlanAcceptance.objects.create(
        depot=plan.depot,
        first_on=plan.first_on,
        last_on=plan.last_on,
        accepted_at=accepted_at,
        accepted_by=accepted_by,
    )
    for change in changes_between(planned, plan.wanted):
        _carry_out(acceptance, change, plan.why.get(change.door, ""))
    return acceptance


@transaction.atomic
def take_back_plan(
    *, acceptance: PlanAcceptance, undone_at: datetime, undone_by: User
) -> TakenBack:
    """Put the visits back as they were before the plan; what was begun since is left alone."""
    acceptance = PlanAcceptance.objects.select_for_update().get(pk=acceptance.pk)
    if acceptance.undone_at:
        raise PlanRefusedError(_("This plan has been taken back already."))
    newer = PlanAcceptance.objects.in_force().filter(
        depot=acceptance.depot_id, pk__gt=acceptance.pk
    )
    if newer.exists():
        raise PlanRefusedError(
            _("A later plan was accepted for this depot. Take that one back first.")
        )
    left_alone, put_back = [], 0
    for step in acceptance.steps.select_related("before", "after"):
        begun = _take_back(step)
        left_alone += [begun] if begun else []
        put_back += begun is None
    acceptance.undone_at, acceptance.undone_by = undone_at, undone_by
    acceptance.save(update_fields=("undone_at", "undone_by"))
    return TakenBack(put_back, left_alone)


@transaction.atomic
def choose_night(
    *, door: DoorUnit, chosen_on: date, chosen_at: datetime, chosen_by: User
) -> NightChoice:
    """Keep a door's visit in a night; an earlier choice for the door ends."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    _end_choice(door, chosen_at, chosen_by)
    return NightChoice.objects.create(
        door=door, chosen_on=chosen_on, chosen_at=chosen_at, chosen_by=chosen_by
    )


@transaction.atomic
def withdraw_choice(
    *, door: DoorUnit, night_on: date, withdrawn_at: datetime, withdrawn_by: User
) -> None:
    """Leave the door's night to the plan again, also that of a visit planned by hand."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    if not _end_choice(door, withdrawn_at, withdrawn_by):
        NightChoice.objects.create(
            door=door,
            chosen_on=night_on,
            chosen_at=withdrawn_at,
            chosen_by=withdrawn_by,
            withdrawn_at=withdrawn_at,
            withdrawn_by=withdrawn_by,
        )


def _end_choice(door: DoorUnit, ended_at: datetime, ended_by: User) -> int:
    """End the choice that stands for the door; returns how many there were."""
    return (
        NightChoice.objects.standing()
        .filter(door=door)
        .update(withdrawn_at=ended_at, withdrawn_by=ended_by)
    )


def planned_visits(depot: Depot, *, until: date) -> list[PlannedVisit]:
    """Visits of the depot that are planned for a night up to the last one; queries twice."""
    visits = Visit.objects.filter(
        depot=depot, state=VisitState.PLANNED, planned_on__lte=until
    ).order_by("planned_on", "pk")
    jobs: dict[int, set[tuple[str, int]]] = {}
    for job in VisitJob.objects.filter(visit__in=visits).order_by("pk"):
        jobs.setdefault(job.visit_id, set()).add(target_of(job))
    return [
        PlannedVisit(visit.pk, visit.door_id, visit.planned_on, frozenset(jobs.get(visit.pk, ())))
        for visit in visits
    ]


def mark_of(planned: Iterable[PlannedVisit]) -> str:
    """A mark that changes with any planned visit, its night or its jobs."""
    rows = sorted((each.pk, each.night_on.isoformat(), sorted(each.jobs)) for each in planned)
    return sha256(repr(rows).encode()).hexdigest()


def target_of(job: VisitJob) -> tuple[str, int]:
    """Kind and id of what a job is about."""
    return (job.kind, getattr(job, TARGETS[JobKind(job.kind)]))


def _carry_out(acceptance: PlanAcceptance, change: Change, why: str) -> None:
    before = Visit.objects.get(pk=change.before.pk) if change.before else None
    if change.kind == PlanChange.REFILLED and before and change.after and change.before:
        _set_jobs(before, change.after.jobs, keep=change.after.along)
        _write(acceptance, change, sides=(before, before), why=why)
        return
    if before:
        _drop(before, _words_for(change, why))
    after = _plan(acceptance, change.after, before) if change.after else None
    _write(acceptance, change, sides=(before, after), why=why)


def _write(
    acceptance: PlanAcceptance,
    change: Change,
    *,
    sides: tuple[Visit | None, Visit | None],
    why: str,
) -> None:
    is_refilled = change.kind == PlanChange.REFILLED
    jobs = sorted(change.before.jobs) if change.before and is_refilled else []
    PlanStep.objects.create(
        acceptance=acceptance,
        change=change.kind,
        before=sides[0],
        after=sides[1],
        why=why[:300],
        jobs_before=[list(each) for each in jobs],
    )


def _words_for(change: Change, why: str) -> str:
    if change.after:
        return _("moved to %(night)s") % {"night": short_day(change.after.night_on)}
    return why or _("not in the accepted plan")


def _drop(visit: Visit, reason: str) -> None:
    visit.state, visit.reason = VisitState.DROPPED, reason[:200]
    visit.save(update_fields=("state", "reason"))


def _plan(acceptance: PlanAcceptance, wanted: WantedVisit, before: Visit | None) -> Visit:
    visit = Visit.objects.create(
        door_id=wanted.door,
        truck_id=wanted.truck,
        depot=acceptance.depot,
        planned_on=wanted.night_on,
        technician=before.technician if before else None,
        entered_at=acceptance.accepted_at,
        entered_by=acceptance.accepted_by,
    )
    _set_jobs(visit, wanted.jobs, keep=frozenset())
    return visit


def _set_jobs(
    visit: Visit, wanted: Iterable[tuple[str, int]], *, keep: frozenset[tuple[str, int]]
) -> None:
    """Make the jobs of a visit not yet begun those wanted, and leave those to keep."""
    there = {target_of(job): job for job in visit.jobs.all()}
    wanted = frozenset(wanted)
    for target, job in there.items():
        if target not in wanted and target not in keep:
            job.delete()
    VisitJob.objects.bulk_create(
        VisitJob(visit=visit, kind=kind, **{TARGETS[JobKind(kind)]: pk})
        for kind, pk in sorted(wanted - set(there))
    )


def _take_back(step: PlanStep) -> Visit | None:
    """Undo one step; the visit that stands in the way, if one was begun since."""
    if step.change == PlanChange.REFILLED and step.before:
        if step.before.state != VisitState.PLANNED:
            return step.before
        _set_jobs(step.before, [(kind, pk) for kind, pk in step.jobs_before], keep=frozenset())
        return None
    if step.after:
        if step.after.state != VisitState.PLANNED:
            return step.after
        _drop(step.after, _("the plan was taken back"))
    if step.before:
        return _put_back(step.before)
    return None


def _put_back(visit: Visit) -> Visit | None:
    """Plan the visit as before, unless another one stands on its night by now."""
    same = Visit.objects.filter(
        door_id=visit.door_id, planned_on=visit.planned_on, state=VisitState.PLANNED
    )
    if (other := same.first()) is not None:
        return other
    visit.state, visit.reason = VisitState.PLANNED, ""
    visit.save(update_fields=("state", "reason"))
    return None
