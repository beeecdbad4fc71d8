"""A depot's work and hours as the problem that the kernel solves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from analytics.assessment.along import does_along
from analytics.assessment.nights import assess_nights, trained_minutes
from analytics.assessment.plan_jobs import Catalogue, PlanJob, jobs_of_week
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Ints
from analytics.datasets.depot_week import DepotWeek
from analytics.kernel.schedule import pinned_nights
from analytics.kernel.schedule_problem import (
    NOT_PLACED,
    VISIT_MINUTES,
    Jobs,
    Nights,
    ScheduleProblem,
)
from inspections.models import JobKind


@dataclass(frozen=True)
class DepotProblem:
    """The jobs of a depot, the trucks by row, and the problem that the kernel solves."""

    week: DepotWeek
    jobs: tuple[PlanJob, ...]
    trucks: Ints
    problem: ScheduleProblem
    over_minutes: tuple[float, ...]


def assess_depot_plan(week: DepotWeek, catalogue: Catalogue) -> DepotProblem:
    """What there is to plan at the depot; visits planned for later nights are left alone."""
    jobs = jobs_of_week(week, catalogue)
    ids = np.array([week.trucks[job.door] for job in jobs], dtype=np.int64)
    trucks, truck = np.unique(ids, return_inverse=True)
    nights = nights_of(week, trucks)
    rows = Jobs(
        truck=truck.astype(np.int64),
        minutes=np.array([job.minutes for job in jobs], dtype=float),
        due_night=np.array([_night(week, job.due_on) for job in jobs], dtype=float),
        earliest_night=np.array(
            [max(_night(week, job.earliest_on), 0) for job in jobs], dtype=np.int64
        ),
        weight=np.array([job.weight for job in jobs], dtype=float),
        goes_first=np.array([job.goes_first for job in jobs], dtype=bool),
        needs_trained=np.array([job.needs_trained for job in jobs], dtype=bool),
        pinned_night=_nights_or_none(week, [job.kept_on for job in jobs]),
    )
    covers = _covers(jobs, catalogue)
    told = _nights_or_none(week, [job.told_on for job in jobs])
    held = _with_room_for_kept(nights, rows, covers, told)
    return DepotProblem(
        week=week,
        jobs=jobs,
        trucks=trucks,
        problem=ScheduleProblem(rows, held, covers, told),
        over_minutes=tuple((held.minutes - nights.minutes).tolist()),
    )


def nights_of(week: DepotWeek, trucks: Ints) -> Nights:
    """The hours of the nights, with these trucks by id."""
    first = (week.first_on - EPOCH_DATE).days
    days = first + np.arange(week.nights)
    row = int(np.flatnonzero(week.depots.ids == week.depot.pk)[0])
    trained = trained_minutes(week.people, week.depots, week.hours, depot=row, days=days)
    return assess_nights(
        week.hours, trained, days=days, trucks=trucks, laid_up=_laid_up(week, trucks, days)
    )


def _laid_up(week: DepotWeek, trucks: Ints, days: Ints) -> Flags:
    out = np.zeros((len(trucks), len(days)), bool)
    for truck, from_on, until_on in week.laid_up:
        until = days[-1] + 1 if until_on is None else (until_on - EPOCH_DATE).days
        out[trucks == truck] |= (days >= (from_on - EPOCH_DATE).days) & (days < until)
    return out


def _covers(jobs: Sequence[PlanJob], catalogue: Catalogue) -> Ints:
    """Pairs of jobs on one door, the second of which is done with the first."""
    of_door: dict[int, list[int]] = {}
    for row, job in enumerate(jobs):
        of_door.setdefault(job.door, []).append(row)
    places = [catalogue.row(job.task) for job in jobs]
    pairs = [
        (outer, inner)
        for rows in of_door.values()
        for outer in rows
        for inner in rows
        if outer != inner
        and jobs[inner].kind == JobKind.TASK
        and does_along(catalogue.tasks, places[outer], places[inner])
    ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def _with_room_for_kept(nights: Nights, jobs: Jobs, covers: Ints, told: Ints) -> Nights:
    """The hours, stretched where what people put into a night does not fit; the page says so.

    Only the bay's hours and the truck's: spring work is never stretched onto untrained people, and
    what finds nobody trained leaves no room to others either.
    """
    kept = jobs.pinned_night >= 0
    wide = _stretched(nights, jobs, covers, kept)
    if not (kept & jobs.needs_trained).any():
        return wide
    fits = pinned_nights(ScheduleProblem(jobs, wide, covers, told)) >= 0
    return _stretched(nights, jobs, covers, fits)


def _stretched(nights: Nights, jobs: Jobs, covers: Ints, kept: Flags) -> Nights:
    """The hours, with room for these jobs on the nights that they are pinned to."""
    along = np.zeros(len(jobs), bool)
    outer, inner = covers.T
    with_it = kept[outer] & (jobs.pinned_night[outer] == jobs.pinned_night[inner])
    along[inner[with_it]] = True
    work = np.flatnonzero(kept & ~along)
    minutes = np.zeros(nights.home.shape)
    np.add.at(minutes, (jobs.truck[work], jobs.pinned_night[work]), jobs.minutes[work])
    visited = np.zeros(nights.home.shape, bool)
    visited[jobs.truck[work], jobs.pinned_night[work]] = True
    minutes += VISIT_MINUTES * visited
    assert nights.home_minutes is not None  # made so by `assess_nights`
    return Nights(
        minutes=np.maximum(nights.minutes, minutes.sum(axis=0)),
        trained_minutes=nights.trained_minutes,
        home=nights.home | visited,
        home_minutes=np.maximum(nights.home_minutes, minutes),
    )


def _night(week: DepotWeek, day: date) -> int:
    return (day - week.first_on) // timedelta(days=1)


def _nights_or_none(week: DepotWeek, days: Sequence[date | None]) -> Ints:
    """Nights of the plan by number; -1 for none and for days that are not of it."""
    numbers = [NOT_PLACED if day is None else _night(week, day) for day in days]
    return np.array(
        [number if 0 <= number < week.nights else NOT_PLACED for number in numbers],
        dtype=np.int64,
    )
