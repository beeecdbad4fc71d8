"""Working out plans: an instant one of a depot, or the full run over several."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime

from django.db.models import F

from analytics.assessment.depot_plan import DepotProblem, assess_depot_plan
from analytics.assessment.plan_jobs import Catalogue
from analytics.datasets.catalogue import fetch_tasks
from analytics.datasets.depot_week import fetch_depot_week
from analytics.datasets.planning import fetch_task_facts
from analytics.kernel.schedule import ROUNDS, preview, schedule_depots
from analytics.models import PlanRun, Proposal
from analytics.scheduling.store import store_proposal
from fleetdoors.models import Depot, User

# A preview answers within a second: the more jobs, the fewer rounds of search.
PREVIEW_JOB_ROUNDS = 20_000
SECONDS_PER_DEPOT = 3.0
MOST_SECONDS = 50.0


def propose_at_once(
    *, depot: Depot, first_on: date, nights: int, asked_at: datetime, asked_by: User
) -> Proposal:
    """A plan by search alone, kept beside the ones before until a person decides."""
    run = PlanRun.objects.create(
        asked_at=asked_at, asked_by=asked_by, first_on=first_on, nights=nights, depots=1,
        is_full=False,
    )  # fmt: skip
    work = depot_problem(depot, run, now=asked_at)
    rounds = min(ROUNDS, PREVIEW_JOB_ROUNDS // max(len(work.jobs), 1))
    proposal = store_proposal(run, work, preview(work.problem, rounds=rounds), made_at=asked_at)
    run.depots_done, run.finished_at = 1, asked_at
    run.save(update_fields=("depots_done", "finished_at"))
    return proposal


def ask_for_full_run(
    *, depots: Sequence[Depot], first_on: date, nights: int, asked_at: datetime, asked_by: User
) -> PlanRun:
    """Write down that plans of the depots are wanted; `work_out` makes them."""
    return PlanRun.objects.create(
        asked_at=asked_at, asked_by=asked_by, first_on=first_on, nights=nights,
        depots=len(depots), is_full=True,
    )  # fmt: skip


def work_out(
    run: PlanRun, depots: Sequence[Depot], *, now: datetime, done: Callable[[int], None]
) -> None:
    """Plan the depots with search and solver, and keep the plans; `done` hears how far it is."""
    work = [depot_problem(depot, run, now=now) for depot in depots]
    plans = schedule_depots(
        [each.problem for each in work],
        seconds=min(SECONDS_PER_DEPOT * max(len(work), 1), MOST_SECONDS),
        done=done,
    )
    for each, plan in zip(work, plans, strict=True):
        store_proposal(run, each, plan, made_at=now)
    PlanRun.objects.filter(pk=run.pk).update(depots_done=F("depots"), finished_at=now)


def depot_problem(depot: Depot, run: PlanRun, *, now: datetime) -> DepotProblem:
    """The depot's work and hours as the record has them now."""
    week = fetch_depot_week(depot, first_on=run.first_on, nights=run.nights, now=now)
    return assess_depot_plan(week, Catalogue(fetch_tasks(), fetch_task_facts()))
