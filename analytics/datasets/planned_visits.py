"""Visits that are planned or open, and the nights that people chose, as they were known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q

from fleetdoors.models import Depot
from inspections.models import NightChoice, PlanStep, Visit, VisitJob, VisitState
from inspections.models.visit import STILL_TO_DO


@dataclass(frozen=True)
class PlannedVisit:
    """A visit that is planned or open, with its jobs as (kind, id of what they are about)."""

    pk: int
    door: int
    night_on: date
    is_open: bool
    by_hand: bool
    jobs: frozenset[tuple[str, int]]


def fetch_planned(depot: Depot, known_at: datetime | None = None) -> Iterable[PlannedVisit]:
    """Visits of a depot still to do, now or as known before a moment; two queries.

    A visit taken off the plan since, or to which the truck did not come, has no moment on record
    and is left out; the jobs are those that the visit has now.
    """
    by_plan = PlanStep.objects.filter(after=OuterRef("pk"), acceptance__undone_at__isnull=True)
    released = NightChoice.objects.filter(
        door=OuterRef("door"), withdrawn_at__gte=OuterRef("entered_at")
    )
    wanted = Visit.objects.filter(_stood(known_at), depot=depot)
    visits = list(
        wanted.annotate(by_plan=Exists(by_plan), is_released=Exists(released))
        .order_by("planned_on", "pk")
        .values_list("pk", "door", "planned_on", "state", "started_at", "by_plan", "is_released")
    )
    jobs: dict[int, set[tuple[str, int]]] = {}
    held = VisitJob.objects.filter(visit__in=wanted).order_by("pk")
    for visit, kind, *targets in held.values_list(
        "visit", "kind", "task", "fault", "follow_up", "defect_report"
    ):
        target = next(each for each in targets if each is not None)
        jobs.setdefault(visit, set()).add((kind, target))
    for pk, door, night_on, state, started, was_planned, is_released in visits:
        yield PlannedVisit(
            pk=pk,
            door=door,
            night_on=night_on,
            is_open=state == VisitState.OPEN if known_at is None else _had_begun(started, known_at),
            by_hand=not (was_planned or is_released),
            jobs=frozenset(jobs.get(pk, ())),
        )


def _had_begun(started: datetime | None, known_at: datetime) -> bool:
    return started is not None and started < known_at


def _stood(known_at: datetime | None) -> Q:
    """Planned or open, now or at a moment."""
    to_do = Q(state__in=STILL_TO_DO)
    if known_at is None:
        return to_do
    return Q(entered_at__lt=known_at) & (
        to_do | Q(state=VisitState.CLOSED, closed_at__gte=known_at)
    )


def fetch_choices(depot: Depot, known_at: datetime | None = None) -> dict[int, date]:
    """Nights that people chose, by door id, now or as known before a moment; one query."""
    chosen = NightChoice.objects.filter(
        door__mountings__removed_on__isnull=True, door__mountings__truck__depot=depot
    )
    if known_at is None:
        chosen = chosen.filter(withdrawn_at__isnull=True)
    else:
        stood = Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gte=known_at)
        chosen = chosen.filter(stood, chosen_at__lt=known_at)
    return dict(chosen.order_by("chosen_at", "pk").values_list("door", "chosen_on"))
