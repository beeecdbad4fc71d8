"""The year ahead under a changed catalogue: one task's sheet in place of the present one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analytics.assessment.work_base import WorkBase
from analytics.datasets.catalogue import CONDITIONS, Tasks
from analytics.datasets.columns import Flags, Floats
from analytics.datasets.work_ahead import TaskWork
from fleetdoors.models import Performer
from fleetdoors.services.task_sheet import TaskSheet


def with_sheet(base: WorkBase, code: str, sheet: TaskSheet) -> WorkBase:
    """The same doors, with the task as the sheet has it; a new one was never done on any door."""
    grown = base if code in base.tasks.codes else _with_new_task(base, code)
    row = grown.tasks.codes.index(code)
    work = TaskWork(
        minutes=_put(grown.work.minutes, row, sheet.minutes),
        needs_visit=_put(grown.work.needs_visit, row, sheet.performer != Performer.DRIVER),
    )
    return replace(grown, tasks=_tasks(grown.tasks, row, sheet), work=work)


def _with_new_task(base: WorkBase, code: str) -> WorkBase:
    tasks, doors = base.tasks, base.doors
    count = len(tasks)
    contains = np.eye(count + 1, dtype=bool)
    contains[:count, :count] = tasks.contains
    grown = replace(
        tasks,
        ids=np.append(tasks.ids, -1),
        codes=(*tasks.codes, code),
        interval_cycles=np.append(tasks.interval_cycles, np.nan),
        interval_days=np.append(tasks.interval_days, np.nan),
        spring_class_share=np.append(tasks.spring_class_share, np.nan),
        window_before=np.append(tasks.window_before, 0.0),
        window_after=np.append(tasks.window_after, 0.0),
        listed=np.append(tasks.listed, False),
        contains=contains,
        factors=np.vstack((tasks.factors, np.ones(len(CONDITIONS)))),
    )
    opening, begun = doors.opening_cycles[base.rows], doors.record_from_day[base.rows]
    return replace(
        base,
        tasks=grown,
        work=TaskWork(np.append(base.work.minutes, 0.0), np.append(base.work.needs_visit, 0.0)),
        last_cycles=np.column_stack((base.last_cycles, opening)),
        last_day=np.column_stack((base.last_day, begun)),
        asked_for=np.column_stack((base.asked_for, np.zeros(len(base.rows), dtype=bool))),
    )


def _tasks(tasks: Tasks, row: int, sheet: TaskSheet) -> Tasks:
    factors = tasks.factors.copy()
    factors[row] = [sheet.factors.get(condition, 1.0) for condition in CONDITIONS]
    listed = tasks.listed.copy()
    listed[row] = sheet.is_on_due_lists
    return replace(
        tasks,
        interval_cycles=_put(tasks.interval_cycles, row, sheet.interval_cycles),
        interval_days=_put(tasks.interval_days, row, sheet.interval_days),
        spring_class_share=_put(tasks.spring_class_share, row, sheet.spring_class_share),
        listed=listed,
        contains=_contained(tasks, row, sheet),
        factors=factors,
    )


def _put(values: Floats, row: int, value: float | None) -> Floats:
    found = values.copy()
    found[row] = np.nan if value is None else value
    return found


def _contained(tasks: Tasks, row: int, sheet: TaskSheet) -> Flags:
    """What the task does by the sheet, and what those that contain it then do."""
    own = np.isin(np.array(tasks.codes, dtype=str), sheet.contains)
    own |= (own[:, None] & tasks.contains).any(axis=0)
    own[row] = True
    found = tasks.contains.copy()
    found[row] = own
    found[tasks.contains[:, row]] |= own
    return found
