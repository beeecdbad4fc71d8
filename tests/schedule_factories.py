"""Builders for tests of plans: a depot with doors whose tasks fall due, hours, trained people."""

from __future__ import annotations

from datetime import date, timedelta

from analytics.models import Computation, DueState
from fleetdoors.models import Depot, DoorUnit, User
from inspections.models import JobKind, NightChoice, PlanAcceptance, PlanStep, Visit, VisitJob
from inspections.models.plan_acceptance import PlanChange
from inspections.services.plan_changes import WantedVisit
from tests.factories import NOW, make_depot, make_door, make_truck, make_user, task
from tests.pages.planner_rows import make_due, make_figures
from tests.truck_factories import make_visit

TODAY = NOW.date()


def night(count: int) -> date:
    """The night so many days from the day of the tests."""
    return TODAY + timedelta(days=count)


def make_due_door(
    *, run: Computation, depot: Depot, number: str, due: dict[str, int], share: float = 0.95
) -> DoorUnit:
    """A door on a truck of its own with tasks due so many days from today."""
    truck = make_truck(depot=depot, fleet_number=f"T-{number}")
    door = make_door(truck=truck, serial=f"D-{number}")
    make_figures(run=run, door=door)
    for code, days in due.items():
        make_due(
            run=run,
            door=door,
            code=code,
            state=DueState.LATE if days < 0 else DueState.SOON,
            due_on=night(days),
            share_used=share,
        )
    return door


def wanted_visit(
    door: DoorUnit, days: int, *codes: str, along: tuple[str, ...] = ()
) -> WantedVisit:
    """A visit of a plan with preventive tasks."""
    return WantedVisit(
        door=door.pk,
        truck=door.mountings.get(removed_on=None).truck_id,
        night_on=night(days),
        jobs=frozenset((JobKind.TASK, task(code).pk) for code in codes),
        along=frozenset((JobKind.TASK, task(code).pk) for code in along),
    )


def make_planned(door: DoorUnit, days: int, *codes: str) -> Visit:
    """A visit planned by hand with preventive tasks."""
    visit = make_visit(door=door, planned_on=night(days))
    for code in codes:
        VisitJob.objects.create(visit=visit, kind=JobKind.TASK, task=task(code))
    return visit


def make_acceptance(*, depot: Depot | None = None, person: User | None = None) -> PlanAcceptance:
    return PlanAcceptance.objects.create(
        depot=depot or make_depot(),
        first_on=TODAY,
        last_on=night(6),
        accepted_at=NOW,
        accepted_by=person or make_user(),
    )


def make_choice(*, door: DoorUnit | None = None, days: int = 1) -> NightChoice:
    return NightChoice.objects.create(
        door=door or make_door(), chosen_on=night(days), chosen_at=NOW, chosen_by=make_user()
    )


def make_step() -> PlanStep:
    return PlanStep.objects.create(
        acceptance=make_acceptance(), change=PlanChange.ADDED, after=make_visit()
    )


def tasks_of(visit: Visit) -> set[str]:
    """Codes of the tasks that a visit holds."""
    return {job.task.code for job in visit.jobs.select_related("task") if job.task}
