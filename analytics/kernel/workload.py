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
    weeks, tasks = len(factor), len(programme.minutes)
    proper = _properly_inside(programme.contains)
    last_cycles, last_day = standing.last_cycles.copy(), standing.last_day.copy()
    asked_for = standing.asked_for & programme.planned
    minutes, visits, doings = (np.zeros((groups, weeks)) for _ in range(3))
    by_task, waiting = np.zeros((tasks, weeks)), np.zeros(groups)
    own_minutes = np.where(programme.along, 0.0, programme.minutes)
    stands_for = np.ones(len(group)) if weight is None else weight
    for week in range(weeks):
        begins = first_day + WEEK_DAYS * week
        start, end = cycles[:, week, None], cycles[:, week + 1, None]
        per_day = np.maximum((end - start) / WEEK_DAYS, _LEAST_CYCLES)
        share = factor[week][standing.pattern]
        by_cycles = begins + (last_cycles + standing.interval_cycles * share - start) / per_day
        due_day = np.fmin(by_cycles, last_day + programme.interval_days * share)
        due_day = np.where(asked_for, np.fmin(due_day, begins), due_day)
        due = programme.planned & (due_day < begins + WEEK_DAYS)
        outermost = due & ~_reached(due, proper)
        called = due.any(axis=1)
        took = outermost @ own_minutes + programme.visit_minutes * called
        minutes[:, week] = np.bincount(group, took * stands_for, groups)
        visits[:, week] = np.bincount(group, called * stands_for, groups)
        doings[:, week] = np.bincount(group, outermost.sum(axis=1) * stands_for, groups)
        by_task[:, week] = stands_for @ due
        if week == 0:
            before = due & (due_day < begins)
            late = (before & ~_reached(before, proper)) @ own_minutes
            late += programme.visit_minutes * before.any(axis=1)
            waiting = np.bincount(group, late * stands_for, groups)
        done = _reached(due, programme.contains) | (called[:, None] & programme.along)
        when = np.maximum(np.where(due, due_day, np.inf).min(axis=1, initial=np.inf), begins)
        at = start[:, 0] + per_day[:, 0] * (np.where(called, when, begins) - begins)
        last_cycles = np.where(done, at[:, None], last_cycles)
        last_day = np.where(done, when[:, None], last_day)
        asked_for &= ~done
    return Workload(minutes, visits, doings, by_task, waiting)


def _properly_inside(contains: Flags) -> Flags:
    """Containment without itself; of two that contain each other the first is the larger one."""
    order = np.arange(len(contains))
    other = contains & ~np.eye(len(contains), dtype=bool)
    return other & ~(other.T & (order[:, None] > order))


def _reached(due: Flags, contains: Flags) -> Flags:
    """Which tasks are done by those that are due, (n, t)."""
    return (due.astype(np.float32) @ contains.astype(np.float32)) > 0
