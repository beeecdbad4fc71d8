"""When each listed task is due on each door in service."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.exposure import Exposure
from analytics.assessment.severity import Severity, assess_severity
from analytics.assessment.usage import UsageFound
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.due import Due, GovernedBy, Tasks, due
from analytics.kernel.exposure import Place, cycles_at

DEFAULT_WITHIN_DAYS = 30.0
COUNTER_READING = "CTR"


@dataclass(frozen=True)
class DueFound:
    """One row per door in service and listed task: rows of their tables, and what came out."""

    door: Ints
    task: Ints
    never_done: Flags
    factor: Floats
    severity: Severity
    tasks: Tasks
    due: Due
    window_opens_day: Floats
    window_closes_day: Floats


@dataclass(frozen=True)
class _LastDone:
    """Where each door's tasks were last done, (n, t); day nan = never."""

    cycles: Floats
    day: Floats


def assess_due(
    fleet: Fleet,
    found: UsageFound,
    exposure: Exposure,
    within_days: float = DEFAULT_WITHIN_DAYS,
) -> DueFound:
    """Due dates of every door in service and every task on due lists."""
    doors, tasks = fleet.doors, fleet.tasks
    severity = assess_severity(fleet, found.usage.cycles_per_day)
    last = _last_done(fleet, found, exposure)
    listed = np.flatnonzero(tasks.listed)
    in_service = np.flatnonzero(doors.in_service)
    door = np.repeat(in_service, len(listed))
    task = np.tile(listed, len(in_service))
    never = np.isnan(last.day[door, task])
    factor = severity.factor[door, task]
    begun = _record_begins(fleet)
    asked = Tasks(
        door=door,
        last_done_cycles=np.where(never, doors.opening_cycles[door], last.cycles[door, task]),
        last_done_day=np.where(never, begun[door], last.day[door, task]),
        interval_cycles=_interval_cycles(fleet, door, task) * factor,
        interval_days=tasks.interval_days[task] * factor,
        condition_day=_condition_day(fleet)[door, task],
        window_before=tasks.window_before[task],
        window_after=tasks.window_after[task],
    )
    answer = due(
        doors.day,
        asked,
        found.usage,
        found.followed.calendar,
        calibration=found.parameters.calibration,
        within_days=within_days,
    )
    opens, closes = _windows(found, asked, answer)
    return DueFound(door, task, never, factor, severity, asked, answer, opens, closes)


def _interval_cycles(fleet: Fleet, door: Ints, task: Ints) -> Floats:
    """The task's interval, or its share of the spring class where that is how it is set."""
    tasks = fleet.tasks
    by_class = tasks.spring_class_share[task] * fleet.doors.spring_class_cycles[door]
    return np.where(np.isnan(tasks.spring_class_share[task]), tasks.interval_cycles[task], by_class)


def _condition_day(fleet: Fleet) -> Floats:
    """Day of the first open finding that asks for each task of each door, (n, t); nan = none."""
    asked = fleet.follow_ups
    place = {each: k for k, each in enumerate(fleet.tasks.ids.tolist())}
    day = np.full((len(fleet.doors), len(fleet.tasks)), np.nan)
    row = np.array([place[each] for each in asked.task_id.tolist()], dtype=np.int64)
    np.fmin.at(day, (asked.door, row), asked.day)
    return day


def _record_begins(fleet: Fleet) -> Floats:
    """Day on which each door's record begins: as dated, else its first reading; nan = neither."""
    readings = fleet.readings.kernel
    begun = fleet.doors.record_from_day.copy()
    has_one = np.diff(readings.offsets) > 0
    missing = np.flatnonzero(np.isnan(begun) & has_one)
    begun[missing] = readings.day[readings.offsets[:-1][missing]]
    return begun


def _last_done(fleet: Fleet, found: UsageFound, exposure: Exposure) -> _LastDone:
    """Latest doing of each task, also as part of a larger one."""
    doors, tasks, done = fleet.doors, fleet.tasks, fleet.tasks_done
    place = {each: k for k, each in enumerate(tasks.ids.tolist())}
    row = np.array([place[each] for each in done.task_id.tolist()], dtype=np.int64)
    cycles = _carried_forward(fleet, found, exposure)
    by_time = np.argsort(done.day, kind="stable")
    last = np.full((len(doors), len(tasks)), -1)
    for task in range(len(tasks)):
        chosen = by_time[tasks.contains[row[by_time], task]]
        last[done.door[chosen], task] = chosen
    known = last >= 0
    shape = last.shape
    last_cycles, last_day = np.full(shape, np.nan), np.full(shape, np.nan)
    last_cycles[known], last_day[known] = cycles[last[known]], done.day[last[known]]
    _count_readings(fleet, found, last_cycles, last_day)
    return _LastDone(last_cycles, last_day)


def _count_readings(fleet: Fleet, found: UsageFound, cycles: Floats, day: Floats) -> None:
    """An accepted reading is the counter read, whether or not somebody noted it as a task."""
    for task in np.flatnonzero(np.array(fleet.tasks.codes) == COUNTER_READING):
        later = np.fmax(day[:, task], found.usage.last_read_day) != day[:, task]
        later &= ~np.isnan(found.usage.last_read_day)
        day[later, task] = found.usage.last_read_day[later]
        cycles[later, task] = found.usage.last_cycles[later]


def _carried_forward(fleet: Fleet, found: UsageFound, exposure: Exposure) -> Floats:
    """Cycles at each task done; after the last reading they have run on at the door's usage."""
    done, usage = fleet.tasks_done, found.usage
    cycles = exposure.task_cycles.copy()
    after = np.isnan(done.at_cycles) & (
        cycles_at(found.series, done.door, done.day).place == Place.AFTER_LAST
    )
    door, day = done.door[after], done.day[after]
    still_to_run = found.followed.calendar.elapsed(
        door, fleet.doors.day[door]
    ) - found.followed.calendar.elapsed(door, day)
    run = np.maximum(usage.cycles_now[door] - usage.cycles_per_day[door] * still_to_run, 0.0)
    cycles[after] = np.fmax(cycles[after], run)
    return cycles


def _windows(found: UsageFound, asked: Tasks, answer: Due) -> tuple[Floats, Floats]:
    """Days between which doing the task counts as on time, around the day it is due."""
    per_day = np.maximum(found.usage.cycles_per_day[asked.door], 1e-9)
    length = np.select(
        [answer.governed_by == GovernedBy.CYCLES, answer.governed_by == GovernedBy.DAYS],
        [asked.interval_cycles / per_day, asked.interval_days],
        np.nan,
    )
    opens = answer.due_day - asked.window_before * length
    return opens, answer.due_day + asked.window_after * length
