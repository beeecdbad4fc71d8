"""What there is to do at a depot, job by job: due tasks, findings, and what people planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from analytics.assessment.along import EVERY_VISIT, NO_TASK
from analytics.datasets.catalogue import Tasks
from analytics.datasets.depot_week import DepotWeek, DueRow
from analytics.datasets.findings import HOLD, Finding
from analytics.datasets.planned_visits import PlannedVisit
from analytics.datasets.planning import TaskFacts
from inspections.models import JobKind
from inspections.services.safety import SPRING_FOLLOW_UPS

# Assumptions until the record says better (common practice, no source).
REPAIR_MINUTES = 60.0
SPRING_REPAIR_MINUTES = 120.0
MOST_WEIGHT = 3.0
FOLLOW_UP_WEIGHT = 2.0
# To find out what a driver's report is about (an assumption of the trade, no source).
REPORT_MINUTES = 24.0


@dataclass(frozen=True)
class PlanJob:
    """One job: its kind and the id of what it is about, days, minutes, and what it asks for."""

    kind: str
    pk: int
    door: int
    task: int
    minutes: float
    due_on: date
    earliest_on: date
    weight: float = 1.0
    goes_first: bool = False
    needs_trained: bool = False
    told_on: date | None = None
    kept_on: date | None = None

    @property
    def target(self) -> tuple[str, int]:
        """What the job is about."""
        return (self.kind, self.pk)


@dataclass(frozen=True)
class Catalogue:
    """Tasks by row, what is known of their doing, and rows by task id."""

    tasks: Tasks
    facts: TaskFacts

    @cached_property
    def _rows(self) -> dict[int, int]:
        return {task: row for row, task in enumerate(self.tasks.ids.tolist())}

    def row(self, task: int) -> int:
        """The task's row; -1 for a repair."""
        return self._rows.get(task, NO_TASK)


def jobs_of_week(week: DepotWeek, catalogue: Catalogue) -> tuple[PlanJob, ...]:
    """Due tasks and findings, without those in hand or planned for later nights."""
    later = {
        (visit.door, job)
        for visit in week.planned
        if visit.night_on > week.last_on and not visit.is_open
        for job in visit.jobs
    }
    asked = [*_finding_jobs(week, catalogue), *_due_jobs(week, catalogue)]
    free = [job for job in asked if (job.door, job.target) not in later]
    return tuple(_with_planned(week, catalogue, free))


def _due_jobs(week: DepotWeek, catalogue: Catalogue) -> Iterable[PlanJob]:
    by_finding = {(each.door, each.task) for each in week.findings if each.task}
    for row in week.due:
        place = catalogue.row(row.task)
        if place == NO_TASK or catalogue.facts.by_driver[place]:
            continue
        if (row.door, row.task) not in by_finding:
            yield _due_job(row, place, catalogue)


def _due_job(row: DueRow, place: int, catalogue: Catalogue) -> PlanJob:
    return PlanJob(
        kind=JobKind.TASK,
        pk=row.task,
        door=row.door,
        task=row.task,
        minutes=_minutes(catalogue, place),
        due_on=row.due_on,
        earliest_on=row.half_on,
        weight=min(max(row.share_used, 1.0), MOST_WEIGHT),
        needs_trained=bool(catalogue.facts.needs_trained[place]),
    )


def _minutes(catalogue: Catalogue, place: int) -> float:
    """Minutes of a task; none for what the final check of every visit does."""
    if catalogue.tasks.codes[place] in EVERY_VISIT:
        return 0.0
    return float(catalogue.facts.minutes[place])


def _finding_jobs(week: DepotWeek, catalogue: Catalogue) -> Iterable[PlanJob]:
    still = {each.door for each in week.findings if each.keeps_still}
    written = {each.door for each in week.findings if each.kind in (JobKind.FAULT, JobKind.DEFECT)}
    for each in week.findings:
        if each.kind == HOLD and each.door in written:
            continue
        yield _finding_job(week, each, catalogue, goes_first=each.door in still)


def _finding_job(
    week: DepotWeek, found: Finding, catalogue: Catalogue, *, goes_first: bool
) -> PlanJob:
    place = catalogue.row(found.task)
    springs, minutes = found.of_springs, REPAIR_MINUTES
    if place != NO_TASK:
        trained = bool(catalogue.facts.needs_trained[place])
        springs = trained or catalogue.tasks.codes[place] in SPRING_FOLLOW_UPS
        minutes = float(catalogue.facts.minutes[place])
    elif found.kind == JobKind.DEFECT:
        minutes = REPORT_MINUTES
    elif springs:
        minutes = SPRING_REPAIR_MINUTES
    return PlanJob(
        kind=found.kind,
        pk=found.pk,
        door=found.door,
        task=found.task,
        minutes=minutes,
        due_on=week.first_on,
        earliest_on=week.first_on,
        weight=MOST_WEIGHT if goes_first else FOLLOW_UP_WEIGHT,
        goes_first=goes_first,
        needs_trained=springs,
    )


def _with_planned(
    week: DepotWeek, catalogue: Catalogue, jobs: Sequence[PlanJob]
) -> Iterable[PlanJob]:
    """The jobs with the night that people were told, and the night that is kept."""
    told: dict[tuple[int, tuple[str, int]], date] = {}
    kept = dict(_kept_nights(week))
    own: set[tuple[int, tuple[str, int]]] = set()
    for visit in week.planned:
        if visit.night_on > week.last_on and not visit.is_open:
            continue
        told |= {(visit.door, job): visit.night_on for job in visit.jobs}
        if visit.is_open or is_kept(visit, week):
            own |= {(visit.door, job) for job in visit.jobs}
    for job in jobs:
        key = (job.door, job.target)
        on = kept.get(job.door)
        stays = on is not None and (key in own or _goes_with(job, on, week))
        own.discard(key)
        yield _placed(job, told.get(key), on if stays else None)
    for door, target in sorted(own):
        if door in week.trucks and door in kept:
            yield _placed(_by_hand(week, catalogue, door, target), None, kept[door])


def _kept_nights(week: DepotWeek) -> Iterable[tuple[int, date]]:
    """Door and night that stay: chosen by a person, planned by hand, or open at present."""
    for visit in week.planned:
        if is_kept(visit, week):
            yield visit.door, visit.night_on
    for door, night_on in week.choices.items():
        if week.first_on <= night_on <= week.last_on:
            yield door, night_on
    for visit in week.planned:
        if visit.is_open:
            yield visit.door, week.first_on


def is_kept(visit: PlannedVisit, week: DepotWeek) -> bool:
    """Whether a planned visit stays where a person put it."""
    return (
        visit.by_hand
        and not visit.is_open
        and week.first_on <= visit.night_on <= week.last_on
        and visit.door not in week.choices
    )


def _goes_with(job: PlanJob, on: date, week: DepotWeek) -> bool:
    """Whether a job of the door is meant by a night that somebody chose for the door."""
    return job.door in week.choices and job.earliest_on <= on and job.due_on <= week.last_on


def _by_hand(week: DepotWeek, catalogue: Catalogue, door: int, target: tuple[str, int]) -> PlanJob:
    """A job that somebody planned by hand and that is not due."""
    kind, pk = target
    place = catalogue.row(pk) if kind == JobKind.TASK else NO_TASK
    return PlanJob(
        kind=kind,
        pk=pk,
        door=door,
        task=pk if place != NO_TASK else 0,
        minutes=REPAIR_MINUTES if place == NO_TASK else _minutes(catalogue, place),
        due_on=week.last_on,
        earliest_on=week.first_on,
        needs_trained=place != NO_TASK and bool(catalogue.facts.needs_trained[place]),
    )


def _placed(job: PlanJob, told_on: date | None, kept_on: date | None) -> PlanJob:
    return replace(job, told_on=told_on, kept_on=kept_on)
