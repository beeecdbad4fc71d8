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
        due_day = follower.due_days(begins, run, factor[week][standing.pattern])
        due = programme.planned & (due_day < begins + WEEK_DAYS)
        minutes[:, week] = np.bincount(group, follower.minutes(due), groups)
        visits[:, week] = np.bincount(group, follower.visits(due), groups)
        doings[:, week] = np.bincount(group, follower.doings(due), groups)
        by_task[:, week] = follower.stands_for @ due
        if week == 0:
            late = follower.minutes(due & (due_day < begins))
            waiting = np.bincount(group, late, groups).astype(float)
        follower.do(due, due_day, begins, run)
    return Workload(minutes, visits, doings, by_task, waiting)


class _Follower:
    """When each door's tasks were last done, as the weeks go by."""

    def __init__(self, programme: Programme, standing: Standing, stands_for: Floats) -> None:
        self.programme, self.interval_cycles = programme, standing.interval_cycles
        self.stands_for = stands_for
        self.proper = _properly_inside(programme.contains)
        self.own_minutes = np.where(programme.along, 0.0, programme.minutes)
        self.last_cycles, self.last_day = standing.last_cycles.copy(), standing.last_day.copy()
        self.asked_for = standing.asked_for & programme.planned

    def due_days(self, begins: float, run: tuple[Floats, Floats], factor: Floats) -> Floats:
        """The day on which each task is due if the week's cycles run on evenly, (n, t)."""
        left = self.last_cycles + self.interval_cycles * factor - run[0][:, None]
        by_cycles = begins + left / _per_day(run)[:, None]
        due_day = np.fmin(by_cycles, self.last_day + self.programme.interval_days * factor)
        return np.where(self.asked_for, np.fmin(due_day, begins), due_day)

    def doings(self, due: Flags) -> Floats:
        """Tasks of each door that are not inside a larger one that is due as well, (n,)."""
        return self._outermost(due).sum(axis=1) * self.stands_for

    def minutes(self, due: Flags) -> Floats:
        """Minutes of each door's visit, (n,)."""
        visit = self.programme.visit_minutes * due.any(axis=1)
        return (self._outermost(due) @ self.own_minutes + visit) * self.stands_for

    def visits(self, due: Flags) -> Floats:
        """Whether each door is visited, (n,)."""
        return due.any(axis=1) * self.stands_for

    def _outermost(self, due: Flags) -> Flags:
        return due & ~_reached(due, self.proper)

    def do(self, due: Flags, due_day: Floats, begins: float, run: tuple[Floats, Floats]) -> None:
        """Do what is due on the first of its days, and what goes along with it."""
        called = due.any(axis=1)
        first = np.where(due, due_day, np.inf).min(axis=1, initial=np.inf)
        when = np.maximum(np.where(called, first, begins), begins)
        at = run[0] + _per_day(run) * (when - begins)
        done = _reached(due, self.programme.contains) | (called[:, None] & self.programme.along)
        self.last_cycles = np.where(done, at[:, None], self.last_cycles)
        self.last_day = np.where(done, when[:, None], self.last_day)
        self.asked_for &= ~done


def _per_day(run: tuple[Floats, Floats]) -> Floats:
    return np.maximum((run[1] - run[0]) / WEEK_DAYS, _LEAST_CYCLES)


def _properly_inside(contains: Flags) -> Flags:
    """Containment without itself; of two that contain each other the first is the larger one."""
    order = np.arange(len(contains))
    other = contains & ~np.eye(len(contains), dtype=bool)
    return other & ~(other.T & (order[:, None] > order))


def _reached(due: Flags, contains: Flags) -> Flags:
    """Which tasks are done by those that are due, (n, t)."""
    return (due.astype(np.float32) @ contains.astype(np.float32)) > 0
