"""Preventive tasks of the past months: kept in time, overdue, and the work that waited."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from analytics.assessment.due import COUNTER_READING
from analytics.assessment.severity import is_salt_season
from analytics.assessment.whole import DoorsFound
from analytics.datasets.catalogue import CONDITIONS, Tasks
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.kernel.due import TimeKept
from analytics.kernel.keeping_time import Doings, time_kept
from fleetdoors.models import Setting, SeverityFactor

# The months that are scored, and twice the interval, so that the doing before them is known; of a
# task without days, more than two years.
SCORED_DAYS, LONGEST_LOOK_BACK_DAYS = 400.0, 800.0


@dataclass(frozen=True)
class TaskSpells:
    """Doings counted in a window, and spells from due to done and from window's end to done.

    `spell_*`: door, task, due day, closing day of the window and day done (inf = not yet).
    """

    door: Ints
    day: Floats
    kept: Ints
    spell_door: Ints
    spell_task: Ints
    due_day: Floats
    closed_day: Floats
    done_day: Floats


def assess_task_spells(found: DoorsFound, is_scored: Flags) -> TaskSpells:
    """How the tasks that are scored, (t,), kept their time on doors in service."""
    doings = _doings(found, is_scored)
    door, task = np.divmod(doings.key, len(found.fleet.tasks))
    kept = time_kept(doings)
    open_now = _open_now(found, is_scored)
    missed = open_now.closed_day < found.fleet.doors.day[open_now.spell_door]
    late_by_window = np.where(kept.kept == TimeKept.LATE, kept.counted_day, np.nan)
    done = np.flatnonzero(kept.share > 1.0)
    row = kept.row[done]
    return TaskSpells(
        door=np.concatenate((door[kept.row], open_now.spell_door[missed])),
        day=np.concatenate((kept.counted_day, open_now.closed_day[missed])),
        kept=np.concatenate((kept.kept, np.full(int(missed.sum()), TimeKept.LATE))).astype(
            np.int64
        ),
        spell_door=np.concatenate((door[row], open_now.spell_door)),
        spell_task=np.concatenate((task[row], open_now.spell_task)),
        due_day=np.concatenate((kept.due_day[done], open_now.due_day)),
        closed_day=np.concatenate((late_by_window[done], open_now.closed_day)),
        done_day=np.concatenate((doings.day[row], np.full(len(open_now.due_day), np.inf))),
    )


@dataclass(frozen=True)
class _OpenNow:
    """Tasks due now and not done, row by row."""

    spell_door: Ints
    spell_task: Ints
    due_day: Floats
    closed_day: Floats


def _open_now(found: DoorsFound, is_scored: Flags) -> _OpenNow:
    due, doors = found.due, found.fleet.doors
    row = np.flatnonzero(is_scored[due.task] & (due.due.due_day <= doors.day[due.door]))
    return _OpenNow(due.door[row], due.task[row], due.due.due_day[row], due.window_closes_day[row])


def _doings(found: DoorsFound, is_scored: Flags) -> Doings:
    """Doings of scored tasks, also as part of a larger one, with the intervals that held then."""
    fleet, done, tasks = found.fleet, found.fleet.tasks_done, found.fleet.tasks
    kind = task_rows(tasks, done.task_id)
    ago = np.where(fleet.doors.in_service[done.door], fleet.doors.day[done.door] - done.day, np.inf)
    recent = np.flatnonzero(ago <= LONGEST_LOOK_BACK_DAYS)
    looked_back = np.fmin(SCORED_DAYS + 2 * tasks.interval_days, LONGEST_LOOK_BACK_DAYS)
    outer, inner = np.nonzero(tasks.contains & is_scored)
    rows, what = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for larger, each in zip(outer.tolist(), inner.tolist(), strict=True):
        own = recent[(kind[recent] == larger) & (ago[recent] <= looked_back[each])]
        rows.append(own)
        what.append(np.full(len(own), each))
    row, task = np.concatenate(rows), np.concatenate(what)
    door, day = done.door[row], done.day[row]
    order = np.lexsort((day, task, door))
    row, task, door, day = row[order], task[order], door[order], day[order]
    factor = _factor(found, door, task, day)
    return Doings(
        key=door * len(tasks) + task,
        day=day,
        cycles=found.exposure.task_cycles[row],
        interval_days=tasks.interval_days[task] * factor,
        interval_cycles=_interval_cycles(found, door, task) * factor,
        before=tasks.window_before[task],
        after=tasks.window_after[task],
    )


def task_rows(tasks: Tasks, task_id: Ints) -> Ints:
    """Row of each task id among the tasks."""
    order = np.argsort(tasks.ids)
    return order[np.searchsorted(tasks.ids[order], task_id)]


def _interval_cycles(found: DoorsFound, door: Ints, task: Ints) -> Floats:
    """The task's interval, or its share of the spring class where that is how it is set."""
    tasks = found.fleet.tasks
    share = tasks.spring_class_share[task]
    by_class = share * found.fleet.doors.spring_class_cycles[door]
    return np.where(np.isnan(share), tasks.interval_cycles[task], by_class)


def _factor(found: DoorsFound, door: Ints, task: Ints, day: Floats) -> Floats:
    """Severity on the day each task was done: today's conditions, but the salt of that day."""
    fleet, salt = found.fleet, CONDITIONS.index(Setting.SALT)
    in_force = found.due.severity.in_force.copy()
    in_force[:, salt] = False
    dry = np.exp(in_force @ np.log(fleet.tasks.factors).T)[door, task]
    salted = np.where(_is_salted(found, door, day), fleet.tasks.factors[task, salt], 1.0)
    return np.maximum(dry * salted, SeverityFactor.FLOOR)


def _is_salted(found: DoorsFound, door: Ints, day: Floats) -> Flags:
    """Whether roads were salted at each door's depot on the day, by day and depot."""
    depots = found.fleet.doors.depots
    depot, whole = found.fleet.doors.depot[door], np.floor(day).astype(np.int64)
    salted = np.zeros(len(door), dtype=bool)
    for row in np.unique(depot[depot >= 0]).tolist():
        if Setting.SALT not in depots.settings[row]:
            continue
        own = np.flatnonzero(depot == row)
        days, place = np.unique(whole[own], return_inverse=True)
        season = depots.salt_seasons[row]
        known = [
            is_salt_season(EPOCH_DATE + timedelta(days=each), *season) for each in days.tolist()
        ]
        salted[own] = np.array(known, dtype=bool)[place]
    return salted


def scored_tasks(found: DoorsFound, by_driver: Flags) -> Flags:
    """Tasks on due lists that somebody has to come for: no drivers' tasks, no counter readings."""
    tasks = found.fleet.tasks
    return tasks.listed & ~by_driver & (np.array(tasks.codes, dtype=str) != COUNTER_READING)
