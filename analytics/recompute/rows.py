"""What was computed, as columns of the derived tables."""

from __future__ import annotations

import json

import numpy as np

from analytics.assessment.due import DueFound
from analytics.assessment.usage import last_accepted
from analytics.assessment.whole import DoorsFound
from analytics.datasets.catalogue import CONDITIONS
from analytics.datasets.columns import Ints
from analytics.datasets.fleet import Fleet
from analytics.models import Cause, DueState, GovernedBy, Settlement, UsageBasis
from analytics.recompute import values
from analytics.recompute.store import Columns

BASES = (
    UsageBasis.OWN_READINGS.value,
    UsageBasis.SIMILAR_DOORS.value,
    UsageBasis.STALE.value,
    UsageBasis.NONE.value,
)
STATES = (
    DueState.LATER.value,
    DueState.SOON.value,
    DueState.DUE.value,
    DueState.LATE.value,
    DueState.CONDITION.value,
    DueState.UNKNOWN.value,
)
GOVERNORS = (
    GovernedBy.CYCLES.value,
    GovernedBy.DAYS.value,
    GovernedBy.CONDITION.value,
    GovernedBy.NONE.value,
)
CAUSES = (
    Cause.OK.value,
    Cause.ROLLOVER.value,
    Cause.COUNTER_EXCHANGE.value,
    Cause.DIGITS_SWAPPED.value,
    Cause.DIGIT_MISREAD.value,
    Cause.WRONG_TRUCK.value,
    Cause.UNCHANGED.value,
    Cause.UNEXPLAINED.value,
    Cause.DIGITS_MISCOUNTED.value,
    Cause.RULED.value,
)
SETTLEMENTS = (
    Settlement.NONE.value,
    Settlement.ACCEPTED_LATER.value,
    Settlement.SET_ASIDE.value,
    Settlement.BORNE_OUT.value,
)


def door_columns(generation_id: int, found: DoorsFound, doors: Ints) -> Columns:
    """One row of figures per chosen door."""
    fleet, usage, judgement = found.fleet, found.usage.usage, found.usage.followed.judgement
    rows, exposure = fleet.doors, found.exposure
    failures = np.bincount(fleet.faults.door[fleet.faults.is_failure], minlength=len(rows))
    last = last_accepted(fleet, judgement)[doors]
    has_one = last >= 0
    readings = fleet.readings
    epoch = readings.epoch[last] if len(readings.epoch) else np.zeros(len(doors), np.int64)
    shown = readings.kernel.value[last] if len(readings.epoch) else np.zeros(len(doors))
    return {
        "generation": [generation_id] * len(doors),
        "door": rows.ids[doors].tolist(),
        **place_columns(fleet, doors),
        "door_revision": rows.revision[doors].tolist(),
        "in_service": rows.in_service[doors].tolist(),
        "start_cycles": exposure.start_cycles[doors].tolist(),
        "end_cycles": exposure.end_cycles[doors].tolist(),
        "failures": failures[doors].tolist(),
        "cycles_now": values.numbers(usage.cycles_now[doors]),
        "cycles_per_day": usage.cycles_per_day[doors].tolist(),
        "lower": usage.lower[doors].tolist(),
        "upper": usage.upper[doors].tolist(),
        "basis": values.words(usage.basis[doors], BASES),
        "last_read_at": values.moments(epoch, has_one),
        "last_value": values.whole_numbers(np.where(has_one, shown, np.nan)),
        "accepted": judgement.accepted[doors].tolist(),
        "held": judgement.held_count[doors].tolist(),
        "holds_in_row": judgement.holds_in_row[doors].tolist(),
        "log_rate": usage.log_rate[doors].tolist(),
        "rate_variance": usage.variance[doors].tolist(),
    }


def place_columns(fleet: Fleet, door: Ints) -> Columns:
    """Truck and depot of each row's door, written into the row so that lists need no join."""
    rows = fleet.doors
    return {
        "truck": values.ids(rows.truck[door], rows.trucks.ids),
        "depot": values.ids(rows.depot[door], rows.depots.ids),
    }


def due_columns(generation_id: int, found: DoorsFound, chosen: Ints) -> Columns:
    """One row per chosen door-and-task row of the due dates."""
    fleet, due = found.fleet, found.due
    door, task, asked, answer = due.door[chosen], due.task[chosen], due.tasks, due.due
    latest = fleet.doors.day[door].max(initial=0.0) + values.FURTHEST_DAYS
    return {
        "generation": [generation_id] * len(chosen),
        "door": fleet.doors.ids[door].tolist(),
        "task": fleet.tasks.ids[task].tolist(),
        **place_columns(fleet, door),
        "last_done_on": values.dates(asked.last_done_day[chosen]),
        "last_done_cycles": values.numbers(asked.last_done_cycles[chosen]),
        "never_done": due.never_done[chosen].tolist(),
        "interval_cycles": values.numbers(asked.interval_cycles[chosen]),
        "interval_days": values.numbers(asked.interval_days[chosen]),
        "factor": due.factor[chosen].tolist(),
        "factors": _factors(fleet, due, chosen),
        "due_cycles": values.numbers(answer.due_cycles[chosen]),
        "due_on": values.dates(answer.due_day[chosen], latest),
        "due_on_early": values.dates(answer.due_day_early[chosen], latest),
        "due_on_late": values.dates(answer.due_day_late[chosen], latest),
        "beyond_horizon": answer.beyond_horizon[chosen].tolist(),
        "window_opens_on": values.dates(due.window_opens_day[chosen], latest),
        "window_closes_on": values.dates(due.window_closes_day[chosen], latest),
        "probability_30_days": values.numbers(answer.probability_within[chosen]),
        "governed_by": values.words(answer.governed_by[chosen], GOVERNORS),
        "state": values.words(answer.state[chosen], STATES),
        "share_used": values.numbers(answer.share_used[chosen]),
        "lateness_percent": values.numbers(_lateness(answer.share_used[chosen])),
    }


def _lateness(share_used: np.ndarray) -> np.ndarray:
    return np.where(share_used > 1.0, (share_used - 1.0) * 100.0, np.nan)


def _factors(fleet: Fleet, due: DueFound, chosen: Ints) -> list[str]:
    """The factors behind each interval as JSON; few combinations, so each is written once."""
    in_force, tasks = due.severity.in_force, fleet.tasks
    pattern = in_force @ (1 << np.arange(len(CONDITIONS)))
    key = pattern[due.door[chosen]] * len(tasks) + due.task[chosen]
    kinds, place = np.unique(key, return_inverse=True)
    texts = [_factor_text(fleet, *divmod(kind, len(tasks))) for kind in kinds.tolist()]
    return np.array(texts, dtype=object)[place].tolist() if texts else []


def factors_in_force(fleet: Fleet, due: DueFound, row: int) -> dict[str, float]:
    """The factors behind one row's interval."""
    pattern = due.severity.in_force[due.door[row]] @ (1 << np.arange(len(CONDITIONS)))
    return factors_of(fleet, int(pattern), int(due.task[row]))


def factors_of(fleet: Fleet, pattern: int, task: int) -> dict[str, float]:
    """The factors other than 1 that a pattern of conditions puts on a task."""
    return {
        word: float(fleet.tasks.factors[task, k])
        for k, word in enumerate(CONDITIONS)
        if pattern >> k & 1 and fleet.tasks.factors[task, k] != 1.0
    }


def _factor_text(fleet: Fleet, pattern: int, task: int) -> str:
    return json.dumps(factors_of(fleet, pattern, task))


def suspect_columns(generation_id: int, found: DoorsFound, chosen: Ints) -> Columns:
    """One row per chosen reading."""
    fleet, judgement = found.fleet, found.usage.followed.judgement
    door = fleet.readings.kernel.door()[chosen]
    return {
        "generation": [generation_id] * len(chosen),
        "reading": fleet.readings.ids[chosen].tolist(),
        "door": fleet.doors.ids[door].tolist(),
        **place_columns(fleet, door),
        "is_held": judgement.held[chosen].tolist(),
        "cause": values.words(judgement.cause[chosen], CAUSES),
        "probability": np.nan_to_num(judgement.probability[chosen], nan=0.0).tolist(),
        "suggestion": values.whole_numbers(judgement.suggested_value[chosen]),
        "suggestion_probability": values.numbers(judgement.suggested_probability[chosen]),
        "expected_low": values.numbers(judgement.expected_low[chosen]),
        "expected_high": values.numbers(judgement.expected_high[chosen]),
        "other_door": values.ids(judgement.neighbour[chosen], fleet.doors.ids),
        "settlement": values.words(judgement.settlement[chosen], SETTLEMENTS),
    }


def suspects_among(found: DoorsFound, doors: Ints) -> Ints:
    """Readings of the doors that are held, or that a later reading settled."""
    judgement = found.usage.followed.judgement
    odd = judgement.held | (judgement.settlement != 0)
    wanted = np.zeros(len(found.fleet.doors), bool)
    wanted[doors] = True
    return np.flatnonzero(odd & wanted[found.fleet.readings.kernel.door()])
