"""When each task is due on each door."""

from __future__ import annotations

import numpy as np

from analytics.assessment.due import DEFAULT_WITHIN_DAYS, DueFound, assess_due
from analytics.datasets.columns import Ints
from analytics.due_reason import due_reason
from analytics.figures.record import Record
from analytics.figures.words import Row, day, day_ahead, number
from analytics.recompute.rows import GOVERNORS, STATES, factors_in_force

KEYS = (
    "door", "truck", "depot", "task", "last_done_on", "last_done_cycles", "interval_cycles",
    "interval_days", "due_cycles", "due_on", "due_on_early", "due_on_late", "probability_within",
    "governed_by", "state", "reason",
)  # fmt: skip
TAKES = ("depot", "task", "within", "as_of")


def rows(record: Record) -> list[Row]:
    """One row per door in service and listed task, or those due within the days asked for."""
    within = record.question.within_days
    found = assess_due(
        record.fleet,
        record.usage,
        record.exposure,
        DEFAULT_WITHIN_DAYS if within is None else within,
    )
    return [_row(record, found, k) for k in _asked_for(record, found).tolist()]


def _asked_for(record: Record, found: DueFound) -> Ints:
    question, codes = record.question, record.fleet.tasks.codes
    wanted = record.doors_asked_for()[found.door]
    if question.task is not None:
        wanted &= found.task == codes.index(question.task)
    if question.within_days is not None:
        last_day = np.floor(record.fleet.doors.day[found.door]) + question.within_days
        wanted &= np.floor(found.due.due_day) <= last_day
    return np.flatnonzero(wanted)


def _row(record: Record, found: DueFound, k: int) -> Row:
    doors, answer, asked = record.fleet.doors, found.due, found.tasks
    door, task = int(found.door[k]), int(found.task[k])
    today = float(doors.day[door])
    governed_by, state = GOVERNORS[answer.governed_by[k]], STATES[answer.state[k]]
    early, late = answer.due_day_early[k], answer.due_day_late[k]
    # A range that the horizon cut off is no range: its end is unknown, and so may its beginning be.
    out_of_sight = bool(answer.beyond_horizon[k]) and early == late
    return {
        "door": doors.serials[door],
        "truck": doors.trucks.numbers[doors.truck[door]] or None,
        "depot": doors.depots.codes[doors.depot[door]] or None,
        "task": record.fleet.tasks.codes[task],
        "last_done_on": None if found.never_done[k] else day(asked.last_done_day[k]),
        "last_done_cycles": None if found.never_done[k] else number(asked.last_done_cycles[k]),
        "interval_cycles": number(asked.interval_cycles[k]),
        "interval_days": number(asked.interval_days[k]),
        "due_cycles": number(answer.due_cycles[k]),
        "due_on": day_ahead(answer.due_day[k], today),
        "due_on_early": None if out_of_sight else day_ahead(early, today),
        "due_on_late": None if answer.beyond_horizon[k] else day_ahead(late, today),
        "probability_within": number(answer.probability_within[k]),
        "governed_by": governed_by or None,
        "state": state,
        "reason": due_reason(
            governed_by=governed_by,
            state=state,
            never_done=bool(found.never_done[k]),
            has_interval=bool(
                np.isfinite([asked.interval_cycles[k], asked.interval_days[k]]).any()
            ),
            factors=factors_in_force(record.fleet, found, k),
            beyond_horizon=bool(answer.beyond_horizon[k]),
        ),
    }
