"""Plans into rows: visits with their jobs, and what found no night."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from django.db import transaction

from analytics.assessment.depot_plan import DepotProblem
from analytics.assessment.plan_jobs import PlanJob
from analytics.datasets.findings import HOLD
from analytics.kernel.schedule import Schedule, Why
from analytics.models import PlanRun, Proposal, ProposedJob, ProposedVisit
from inspections.models import JobKind
from inspections.services.planning import mark_of, planned_visits

Place = tuple[int, int]


@transaction.atomic
def store_proposal(
    run: PlanRun, work: DepotProblem, plan: Schedule, *, made_at: datetime
) -> Proposal:
    """Keep a plan; what the depot had open before is put away."""
    week = work.week
    Proposal.objects.open_at(week.depot.pk).update(closed_at=made_at)
    nights = work.problem.nights
    real = nights.minutes - np.array(work.over_minutes)
    proposal = Proposal.objects.create(
        run=run,
        depot=week.depot,
        first_on=week.first_on,
        nights=week.nights,
        made_at=made_at,
        is_full=run.is_full,
        by_solver=plan.by_solver,
        cost=plan.cost,
        bound=plan.bound,
        bay_minutes=[round(each, 1) for each in real.tolist()],
        trained_minutes=[round(each, 1) for each in nights.trained_minutes.tolist()],
        hours_are_assumed=bool(np.isnan(week.hours.bay).any()),
        seen=mark_of(planned_visits(week.depot, until=week.last_on)),
    )
    _store_visits(proposal, work, plan)
    return proposal


def _store_visits(proposal: Proposal, work: DepotProblem, plan: Schedule) -> None:
    by_place: dict[Place, list[int]] = {}
    for row, job in enumerate(work.jobs):
        if plan.why[row] != Why.CAN_WAIT:
            by_place.setdefault((job.door, int(plan.night[row])), []).append(row)
    places = sorted(by_place, key=lambda place: (place[1] < 0, place[1], place[0]))
    visits = ProposedVisit.objects.bulk_create(
        _visit(proposal, work, place, [work.jobs[row] for row in by_place[place]])
        for place in places
    )
    ProposedJob.objects.bulk_create(
        job_row(visit, work.jobs[row], is_along=bool(plan.is_along[row]), why=int(plan.why[row]))
        for visit, place in zip(visits, places, strict=True)
        for row in by_place[place]
    )


def _visit(
    proposal: Proposal, work: DepotProblem, place: Place, jobs: list[PlanJob]
) -> ProposedVisit:
    door, night = place
    is_placed = night >= 0
    is_open = any(visit.is_open and visit.door == door for visit in work.week.planned)
    return ProposedVisit(
        proposal=proposal,
        door_id=door,
        truck_id=work.week.trucks[door],
        night_on=work.week.first_on + timedelta(days=night) if is_placed else None,
        is_chosen=is_placed and any(job.kept_on is not None for job in jobs),
        is_open=is_open and night == 0,
    )


def job_row(visit: ProposedVisit, job: PlanJob, *, is_along: bool, why: int) -> ProposedJob:
    """A job as it is kept."""
    return ProposedJob(
        visit=visit,
        kind=job.kind,
        task_id=job.task or None,
        follow_up_id=job.pk if job.kind == JobKind.FOLLOW_UP else None,
        fault_id=job.pk if job.kind == JobKind.FAULT else None,
        defect_report_id=job.pk if job.kind == JobKind.DEFECT else None,
        minutes=job.minutes,
        due_on=job.due_on,
        earliest_on=job.earliest_on,
        is_along=is_along,
        needs_trained=job.needs_trained,
        goes_first=job.goes_first,
        why_not=why,
    )


def target_of(job: ProposedJob) -> tuple[str, int] | None:
    """Kind and id of what a job is about; none for a hold, which a visit does not list."""
    if job.kind == HOLD:
        return None
    pk = {
        JobKind.TASK: job.task_id,
        JobKind.FOLLOW_UP: job.follow_up_id,
        JobKind.FAULT: job.fault_id,
        JobKind.DEFECT: job.defect_report_id,
    }[JobKind(job.kind)]
    return (job.kind, pk or 0)
