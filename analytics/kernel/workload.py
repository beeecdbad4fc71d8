"""The work of preventive tasks week by week: what falls due, what is done along, done again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Flags
from analytics.kernel.usage_paths import WEEK_DAYS

_LEAST_CYCLES = 1e-9


@dataclass(frozen=True)
class Programme:
    """The tasks as they are planned.

    Parameters
    ----------
    interval_days : (t,) before severity; nan none
    minutes : (t,) of one doing, not negative
    planned : (t,) bool, tasks that bring a visit about when they fall due
    along : (t,) bool, tasks that every visit does within its own minutes
    contains : (t, t) bool, doing task i also does task j; itself included
    visit_minutes : minutes of a visit beside its tasks, not negative
    """

    interval_days: Floats
    minutes: Floats
    planned: Flags
    along: Flags
    contains: Flags
    visit_minutes: float


@dataclass(frozen=True)
class Standing:
    """Where doors stand at the beginning.

    Parameters
    ----------
    last_cycles, last_day : (n, t) when each task was last done; nan unknown
    interval_cycles : (n, t) before severity; nan none
    asked_for : (n, t) bool, a finding asks for the task at once
    pattern : (n,) int64, row of the factors of each week that holds for the door
    """

    last_cycles: Floats
    last_day: Floats
    interval_cycles: Floats
    asked_for: Flags
    pattern: Ints


@dataclass(frozen=True)
class Workload:
    """What the weeks bring.

    Parameters
    ----------
    minutes : (g, w) by group and week, the minutes of the visits' tasks and of the visits
    visits : (g, w)
    doings : (g, w) tasks that fall due, those inside a larger one that is due left out
    by_task : (t, w) doings of each task that fall due, over all groups
    waiting_minutes : (g,) of the first week's, what was due before it began
    """

    minutes: Floats
    visits: Floats
    doings: Floats
    by_task: Floats
    waiting_minutes: Floats


def weeks_of_work(
    programme: Programme,
    standing: Standing,
    factor: Floats,
    cycles: Floats,
    *,
    first_day: float,
    group: Ints,
    groups: int,
    weight: Floats | None = None,
) -> Workload:
    """Follow doors week by week: what falls due in a week is done in it, in one visit.

    Parameters
    ----------
    programme : Programme, t tasks
    standing : Standing, n doors
    factor : (w, k, t) severity factor of each week, pattern and task, above 0
    cycles : (n, w + 1) lifetime cycles at the beginning of each week and at the end of the last
    first_day : epoch day on which the first week begins
    group : (n,) int64, in 0..groups - 1
    groups : at least 1
    weight : (n,) how many doors each stands for, not negative; 1 if left out

    Returns
    -------
    Workload

    Raises
    ------
    ValueError
        If a factor is not above 0.

    Notes
    -----
    A task is due as soon as one of its intervals, times the factor of that week, is used up;
    within a week cycles are taken to run evenly. A door's visit of the week falls on the first
    day on which one of its tasks is due, not before the week begins, and does all that falls due
    within the week. A task inside a larger one that is due as well takes no minutes of its own.
    """
    if not (factor > 0).all():
        raise ValueError(f"A severity factor must be above 0, got {factor.min():g}")
    follower = _Follower(programme, standing, np.ones(len(group)) if weight is None else weight)
    weeks = len(factor)
    minutes, visits, doings = (np.zeros((groups, weeks)) for _ in range(3))
    by_task, waiting = np.zeros((len(programme.minutes), weeks)), np.zeros(groups)
    for week in range(weeks):
        begins = first_day + WEEK_DAYS * week
        run = cycles[:, week], cycles[:, week + 1]
        due_day = follower.due_days(begins, run, factor[week].T[:, standing.pattern])
        due = follower.planned & (due_day < begins + WEEK_DAYS)
        outermost, called = follower.outermost(due), np.asarray(due.any(axis=0))
        minutes[:, week] = np.bincount(group, follower.minutes(outermost, called), groups)
        visits[:, week] = np.bincount(group, called * follower.stands_for, groups)
        doings[:, week] = np.bincount(group, outermost.sum(axis=0) * follower.stands_for, groups)
        by_task[:, week] = (due * follower.stands_for).sum(axis=1)
        if week == 0:
            late = due & (due_day < begins)
            took = follower.minutes(follower.outermost(late), np.asarray(late.any(axis=0)))
            waiting = np.bincount(group, took, groups).astype(float)
        follower.do(due, due_day, begins, run)
    return Workload(minutes, visits, doings, by_task, waiting)


class _Follower:
    """When each door's tasks were last done, as the weeks go by; arrays are (t, n)."""

    def __init__(self, programme: Programme, standing: Standing, stands_for: Floats) -> None:
        self.stands_for, self.visit_minutes = stands_for, programme.visit_minutes
        self.planned, self.along = programme.planned[:, None], programme.along[:, None]
        self.own_minutes = np.where(programme.along, 0.0, programme.minutes)[:, None]
        self.interval_days = programme.interval_days[:, None]
        self.inside = programme.contains & ~np.eye(len(programme.contains), dtype=bool)
        self.proper = _properly_inside(self.inside)
        self.interval_cycles = np.ascontiguousarray(standing.interval_cycles.T)
        self.last_cycles = np.ascontiguousarray(standing.last_cycles.T)
        self.last_day = np.ascontiguousarray(standing.last_day.T)
        self.asked_for = standing.asked_for.T & self.planned

    def due_days(self, begins: float, run: tuple[Floats, Floats], factor: Floats) -> Floats:
        """The day on which each task is due if the week's cycles run on evenly."""
        left = self.last_cycles + self.interval_cycles * factor - run[0]
        by_cycles = begins + left / _per_day(run)
        due_day = np.fmin(by_cycles, self.last_day + self.interval_days * factor)
        return np.where(self.asked_for, np.fmin(due_day, begins), due_day)

    def outermost(self, due: Flags) -> Flags:
        """Of what is due, what is not inside a larger task that is due as well."""
        return due & ~_reached(due, self.proper)

    def minutes(self, outermost: Flags, called: Flags) -> Floats:
        """Minutes of each door's visit, (n,)."""
        tasks = (outermost * self.own_minutes).sum(axis=0)
        return (tasks + self.visit_minutes * called) * self.stands_for

    def do(self, due: Flags, due_day: Floats, begins: float, run: tuple[Floats, Floats]) -> None:
        """Do what is due on the first of its days, and what goes along with it."""
        called = due.any(axis=0)
        first = np.where(due, due_day, np.inf).min(axis=0, initial=np.inf)
        when = np.maximum(np.where(called, first, begins), begins)
        at = run[0] + _per_day(run) * (when - begins)
        done = due | _reached(due, self.inside) | (called & self.along)
        np.copyto(self.last_cycles, np.broadcast_to(at, done.shape), where=done)
        np.copyto(self.last_day, np.broadcast_to(when, done.shape), where=done)
        self.asked_for &= ~done


def _per_day(run: tuple[Floats, Floats]) -> Floats:
    return np.maximum((run[1] - run[0]) / WEEK_DAYS, _LEAST_CYCLES)


def _properly_inside(inside: Flags) -> Flags:
    """Containment, of two that contain each other the first taken for the larger one."""
    order = np.arange(len(inside))
    return inside & ~(inside.T & (order[:, None] > order))


def _reached(due: Flags, contains: Flags) -> Flags:
    """Which tasks are done along with those that are due, (t, n); most tasks contain no other."""
    found = np.zeros_like(due)
    for outer in np.flatnonzero(contains.any(axis=1)).tolist():
        found[contains[outer]] |= due[outer]
    return found
