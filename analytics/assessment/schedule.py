"""What is due at a depot, as jobs to be planned into nights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.due import DueFound
from analytics.assessment.nights import assess_nights, trained_minutes
from analytics.assessment.usage import UsageFound
from analytics.datasets.catalogue import Tasks
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.datasets.planning import Planning
from analytics.kernel.schedule import NOT_PLACED, Schedule
from analytics.kernel.schedule_problem import (
    MOST_NIGHTS_EARLY,
    Jobs,
    Nights,
    ScheduleProblem,
)

# The final check of every visit tries the reverse and reads the counter, within its own minutes.
EVERY_VISIT = ("CTR", "REV")
REPAIR = "REPAIR"
NO_TASK = -1
LEAST_SHARE_USED = 0.5
# Assumptions until the record says better (common practice, no source).
REPAIR_MINUTES = 60.0
SPRING_REPAIR_MINUTES = 120.0
MOST_WEIGHT = 3.0
FOLLOW_UP_WEIGHT = 2.0


@dataclass(frozen=True)
class DepotWork:
    """The jobs of a depot and what each of them is: door row, task row (-1 repair), truck row."""

    depot: int
    first_day: int
    hours_are_assumed: bool
    door: Ints
    task: Ints
    trucks: Ints
    problem: ScheduleProblem

    def label(self, fleet: Fleet, job: int) -> str:
        """The task's code, or the word for a repair."""
        task = int(self.task[job])
        return REPAIR if task == NO_TASK else fleet.tasks.codes[task]


@dataclass(frozen=True)
class _Asked:
    """Rows of jobs before they are grouped by truck; nights count from the plan's first."""

    door: Ints
    task: Ints
    minutes: Floats
    due_night: Floats
    earliest_night: Ints
    weight: Floats
    goes_first: Flags
    needs_trained: Flags


def assess_depot_work(
    fleet: Fleet, usage: UsageFound, due: DueFound, planning: Planning, *, depot: int, days: int
) -> DepotWork:
    """What there is to plan at a depot in the days from `as_of` on."""
    first_day = int(np.floor(fleet.doors.depots.day[depot]))
    asked = _joined(
        _due_tasks(fleet, usage, due, planning, depot=depot, days=days),
        _repairs(fleet, planning, depot),
    )
    trucks, truck = np.unique(fleet.doors.truck[asked.door], return_inverse=True)
    hours = planning.hours[int(fleet.doors.depots.ids[depot])]
    return DepotWork(
        depot=depot,
        first_day=first_day,
        hours_are_assumed=bool(np.isnan(hours.bay).any()),
        door=asked.door,
        task=asked.task,
        trucks=trucks,
        problem=ScheduleProblem(
            Jobs(
                truck=truck,
                minutes=asked.minutes,
                due_night=asked.due_night,
                earliest_night=asked.earliest_night,
                weight=asked.weight,
                goes_first=asked.goes_first,
                needs_trained=asked.needs_trained,
                pinned_night=np.full(len(truck), NOT_PLACED),
            ),
            _nights(fleet, planning, depot, first_day + np.arange(days), trucks),
            _covers(fleet, asked),
        ),
    )


def tasks_named(fleet: Fleet, work: DepotWork, plan: Schedule, jobs: Ints) -> list[str]:
    """Names of the jobs of one visit, without those that a larger one of them contains."""
    contains = fleet.tasks.contains
    own = [job for job in jobs.tolist() if not plan.is_along[job] and work.task[job] != NO_TASK]
    return sorted(
        work.label(fleet, job)
        for job in jobs.tolist()
        if not plan.is_along[job]
        or not any(
            work.door[each] == work.door[job] and contains[work.task[each], work.task[job]]
            for each in own
        )
    )


def _due_tasks(
    fleet: Fleet, usage: UsageFound, due: DueFound, planning: Planning, *, depot: int, days: int
) -> _Asked:
    """Tasks due in the days, or soon enough after to be done when the truck is in anyway."""
    doors, facts = fleet.doors, planning.tasks
    now = doors.day[due.door]
    asked_for = _follow_ups(fleet, due, planning)
    due_day = np.where(asked_for, np.fmin(due.due.due_day, now), due.due.due_day)
    first_day = np.floor(doors.depots.day[depot])
    here = (doors.depot[due.door] == depot) & (doors.truck[due.door] >= 0)
    row = np.flatnonzero(
        here
        & ~facts.by_driver[due.task]
        & (np.floor(due_day) < first_day + days + MOST_NIGHTS_EARLY)
    )
    task, door = due.task[row], due.door[row]
    half = np.where(asked_for, first_day, _half_used_day(usage, due, now))[row]
    share = np.nan_to_num(due.due.share_used[row], nan=1.0)
    weight = np.clip(share, 1.0, MOST_WEIGHT) * np.where(asked_for[row], FOLLOW_UP_WEIGHT, 1.0)
    in_final_check = np.isin(np.array(fleet.tasks.codes)[task], EVERY_VISIT)
    return _Asked(
        door=door,
        task=task,
        minutes=np.where(in_final_check, 0.0, facts.minutes[task]),
        due_night=np.floor(due_day[row]) - first_day,
        earliest_night=np.maximum(np.ceil(half - first_day), 0).astype(np.int64),
        weight=weight,
        goes_first=np.zeros(len(row), bool),
        needs_trained=facts.needs_trained[task],
    )


def _follow_ups(fleet: Fleet, due: DueFound, planning: Planning) -> Flags:
    """Which tasks a finding asks for, (p,)."""
    work, tasks = planning.work, fleet.tasks
    place = {each: k for k, each in enumerate(tasks.ids.tolist())}
    asked = {
        (door, place[task])
        for door, task in zip(
            work.follow_up_door.tolist(), work.follow_up_task_id.tolist(), strict=True
        )
        if task in place
    }
    pairs = zip(due.door.tolist(), due.task.tolist(), strict=True)
    return np.array([pair in asked for pair in pairs], dtype=bool)


def _half_used_day(usage: UsageFound, due: DueFound, now: Floats) -> Floats:
    """Day on which half of each interval is used up, by cycles or by days, (p,)."""
    tasks = due.tasks
    per_day = np.maximum(usage.usage.cycles_per_day[tasks.door], 1e-9)
    left = LEAST_SHARE_USED * tasks.interval_cycles - due.due.cycles_used
    by_days = tasks.last_done_day + LEAST_SHARE_USED * tasks.interval_days
    return np.nan_to_num(np.fmin(now + left / per_day, by_days), nan=np.inf)


def _repairs(fleet: Fleet, planning: Planning, depot: int) -> _Asked:
    """A repair for every door that a standing hold keeps still; these go first."""
    work, doors = planning.work, fleet.doors
    here = (doors.depot == depot) & (doors.truck >= 0)
    door = np.unique(work.hold_door[here[work.hold_door]])
    springs = np.isin(door, work.hold_door[work.hold_on_springs])
    count = len(door)
    return _Asked(
        door=door,
        task=np.full(count, NO_TASK),
        minutes=np.where(springs, SPRING_REPAIR_MINUTES, REPAIR_MINUTES),
        due_night=np.zeros(count),
        earliest_night=np.zeros(count, np.int64),
        weight=np.full(count, MOST_WEIGHT),
        goes_first=np.ones(count, bool),
        needs_trained=springs,
    )


def _joined(first: _Asked, second: _Asked) -> _Asked:
    return _Asked(
        **{
            name: np.concatenate((values, vars(second)[name]))
            for name, values in vars(first).items()
        }
    )


def _nights(fleet: Fleet, planning: Planning, depot: int, days: Ints, trucks: Ints) -> Nights:
    """Hours of the bay and of trained people, and the trucks that are home and not laid up."""
    depots = fleet.doors.depots
    hours = planning.hours[int(depots.ids[depot])]
    return assess_nights(
        hours,
        trained_minutes(planning.trained, depots, hours, depot=depot, days=days),
        days=days,
        trucks=fleet.doors.trucks.ids[trucks],
        laid_up=_laid_up(fleet, days, trucks),
    )


def _laid_up(fleet: Fleet, days: Ints, trucks: Ints) -> Flags:
    doors = fleet.doors
    out = np.zeros((len(trucks), len(days)), bool)
    laid = doors.lay_ups
    truck = doors.truck[laid.door]
    for k in np.flatnonzero(np.isin(truck, trucks)).tolist():
        row = np.searchsorted(trucks, truck[k])
        out[row] |= (days >= laid.from_day[k]) & ~(days >= laid.until_day[k])
    return out


def _covers(fleet: Fleet, asked: _Asked) -> Ints:
    """Pairs of jobs on one door, the second of which is done with the first."""
    order = np.argsort(asked.door, kind="stable")
    _, start = np.unique(asked.door[order], return_index=True)
    pairs = [
        (outer, inner)
        for jobs in np.split(order, start[1:])
        for outer in jobs.tolist()
        for inner in jobs.tolist()
        if outer != inner
        and does_along(fleet.tasks, int(asked.task[outer]), int(asked.task[inner]))
    ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def does_along(tasks: Tasks, outer: int, inner: int) -> bool:
    """Whether one task, or a repair, does the other along."""
    codes, contains = tasks.codes, tasks.contains
    if inner == NO_TASK:
        return False
    outer_rank = _rank_in_every_visit(codes, outer)
    inner_rank = _rank_in_every_visit(codes, inner)
    if inner_rank:
        return outer_rank == 0 or outer_rank > inner_rank
    if outer == NO_TASK or outer_rank:
        return False
    both_ways = contains[inner, outer] and inner < outer
    return bool(contains[outer, inner]) and not both_ways


def _rank_in_every_visit(codes: tuple[str, ...], task: int) -> int:
    """1 and up for tasks of the final check, 0 for all others."""
    code = REPAIR if task == NO_TASK else codes[task]
    return EVERY_VISIT.index(code) + 1 if code in EVERY_VISIT else 0
