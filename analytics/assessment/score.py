"""The score of the past months, as sums by depot and door model: never by person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from analytics.assessment.plan_jobs import REPAIR_MINUTES
from analytics.assessment.score_frame import Frame
from analytics.assessment.score_labour import Calls, WorkDays, assess_labour, assess_outside
from analytics.assessment.score_tasks import (
    TaskSpells,
    assess_task_spells,
    scored_tasks,
    task_rows,
)
from analytics.assessment.whole import DoorsFound
from analytics.assessment.workload import VISIT_MINUTES
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.labour import ClosedVisits, HourPrices, OutsideWork
from analytics.datasets.score import Outcomes, Prices
from analytics.datasets.work import PartUseRows
from analytics.kernel.due import TimeKept
from analytics.kernel.effective_days import LayUps
from analytics.kernel.exposure import cycles_at
from analytics.kernel.scoring import came_back, days_within, open_at
from analytics.models.score import Measure

MONTHS = 13
FRESH_DAYS = 30.0


@dataclass(frozen=True)
class ScoreRecord:
    """What the score rests on beside the doors found."""

    outcomes: Outcomes
    off_road: LayUps
    used: PartUseRows
    prices: Prices
    minutes: Floats
    by_driver: Flags
    visits: ClosedVisits
    hour_prices: HourPrices
    outside: OutsideWork


@dataclass(frozen=True)
class Score:
    """Sums by group and month: group = door model and depot; months by their first days.

    `sums`: measure to (2, groups, months), the amount and what it is out of.
    """

    depot: Ints
    model: Ints
    months: tuple[date, ...]
    sums: dict[str, Floats]


def assess_score(found: DoorsFound, record: ScoreRecord) -> Score:
    """Every measure of the last twelve months and of the present one."""
    doors = found.fleet.doors
    kinds, group = np.unique(
        (doors.depot + 1) * (len(doors.model_codes) + 1) + doors.model, return_inverse=True
    )
    months = _months(EPOCH_DATE.fromordinal(EPOCH_DATE.toordinal() + int(doors.day.max(initial=0))))
    starts = [float((month - EPOCH_DATE).days) for month in months]
    now = float(doors.day.max(initial=0.0))
    frame = Frame(group, len(kinds), np.array([*starts, max(now, starts[-1] + 1e-6)]))
    spells = assess_task_spells(found, scored_tasks(found, record.by_driver))
    cycles = _cycles(found, frame)
    sums = (
        _kept(frame, spells)
        | _waiting(found, frame, spells, record)
        | _work(found, frame, record, cycles)
        | _faults(found, frame, record)
        | _doors(found, frame, record, cycles)
    )
    depot, model = np.divmod(kinds, len(doors.model_codes) + 1)
    return Score(depot - 1, model, months, sums)


def _months(today: date) -> tuple[date, ...]:
    """First days of the present month and of the twelve before it."""
    last = today.year * 12 + today.month - 1
    return tuple(date(k // 12, k % 12 + 1, 1) for k in range(last - MONTHS + 1, last + 1))


def _kept(frame: Frame, spells: TaskSpells) -> dict[str, Floats]:
    every = frame.by_day(spells.door, spells.day)
    return {
        measure: np.stack(
            (frame.by_day(spells.door[spells.kept == kept], spells.day[spells.kept == kept]), every)
        )
        for measure, kept in (
            (Measure.ON_TIME.value, TimeKept.ON_TIME),
            (Measure.EARLY.value, TimeKept.EARLY),
        )
    }


def _waiting(
    found: DoorsFound, frame: Frame, spells: TaskSpells, record: ScoreRecord
) -> dict[str, Floats]:
    """Tasks past their window, and minutes of tasks due, at the end of each month."""
    ends, count = frame.edges[1:], len(found.fleet.doors)
    overdue = open_at(spells.closed_day, spells.done_day, ends)
    due = open_at(spells.due_day, spells.done_day, ends)
    late, minutes = np.zeros((count, len(ends))), np.zeros((count, len(ends)))
    for month in range(len(ends)):
        late[:, month] = np.bincount(spells.spell_door[overdue[:, month]], minlength=count)
        rows = np.flatnonzero(due[:, month])
        standing = np.zeros((count, len(found.fleet.tasks)), dtype=bool)
        standing[spells.spell_door[rows], spells.spell_task[rows]] = True
        minutes[:, month] = _outermost(found, standing) @ record.minutes
    served = _in_service(found, ends)
    listed = served * scored_tasks(found, record.by_driver).sum()
    return {
        Measure.OVERDUE.value: np.stack((frame.of_doors(late), frame.of_doors(listed))),
        Measure.OPEN_MINUTES.value: np.stack((frame.of_doors(minutes), frame.of_doors(served))),
    }


def _outermost(found: DoorsFound, standing: Flags) -> Flags:
    """Tasks that are not inside a larger one that stands as well, (n, t)."""
    inside = found.fleet.tasks.contains & ~np.eye(len(found.fleet.tasks), dtype=bool)
    covered = np.zeros_like(standing)
    for outer in np.flatnonzero(inside.any(axis=1)).tolist():
        covered[:, inside[outer]] |= standing[:, outer, None]
    return standing & ~covered


def _in_service(found: DoorsFound, days: Floats) -> Floats:
    """Which doors were in service on each day, by their record's beginning, (n, m)."""
    doors = found.fleet.doors
    begun = ~(doors.record_from_day[:, None] > days)
    return (begun & doors.in_service[:, None]).astype(float)


def _work(
    found: DoorsFound, frame: Frame, record: ScoreRecord, cycles: Floats
) -> dict[str, Floats]:
    """Minutes of planned work and of all, defects found at it for each visit, and what it cost.

    The planned share goes by the catalogue's minutes, with those of a visit, and an hour for a
    call; what work cost goes by the minutes of the visits where they are on record.
    """
    done = found.fleet.tasks_done
    task = task_rows(found.fleet.tasks, done.task_id)
    own = np.flatnonzero(~record.by_driver[task] & (done.day >= frame.edges[0]))
    whole = np.floor(done.day[own]).astype(np.int64)
    visits, row = np.unique(done.door[own] * 10**6 + whole, return_inverse=True)
    standing = np.zeros((len(visits), len(found.fleet.tasks)), dtype=bool)
    standing[row, task[own]] = True
    minutes = _outermost(found, standing) @ record.minutes + VISIT_MINUTES
    door, day = visits // 10**6, (visits % 10**6).astype(float)
    planned = frame.by_day(door, day, minutes)
    calls = record.outcomes
    repairs = REPAIR_MINUTES * frame.by_day(calls.door, calls.day)
    at_work = calls.at_preventive
    return {
        Measure.PLANNED.value: np.stack((planned, planned + repairs)),
        Measure.FOUND.value: np.stack(
            (frame.by_day(calls.door[at_work], calls.day[at_work]), frame.by_day(door, day))
        ),
        **assess_labour(
            frame,
            WorkDays(door, day, minutes),
            Calls(calls.door, calls.day, calls.epoch),
            visits=record.visits,
            prices=record.hour_prices,
            depot=found.fleet.doors.depot,
            cycles=cycles,
        ),
        **assess_outside(frame, record.outside, cycles),
    }


def _cycles(found: DoorsFound, frame: Frame) -> Floats:
    """Cycles run in each month; after a door's last reading at its present rate."""
    count, edges = len(found.fleet.doors), frame.edges
    door = np.repeat(np.arange(count), len(edges))
    usage = found.usage.usage
    read = cycles_at(found.usage.series, door, np.tile(edges, count)).cycles
    behind = found.fleet.doors.day[door] - np.tile(edges, count)
    run = usage.cycles_now[door] - usage.cycles_per_day[door] * np.maximum(behind, 0.0)
    at = np.fmax(read, np.where(np.tile(edges, count) > usage.last_day[door], run, -np.inf))
    steps = np.maximum(np.diff(at.reshape(count, len(edges)), axis=1), 0.0)
    return frame.of_doors(np.nan_to_num(steps))


def _faults(found: DoorsFound, frame: Frame, record: ScoreRecord) -> dict[str, Floats]:
    """Repairs that came back, and calls at which no fault was found."""
    calls = record.outcomes
    repaired = np.flatnonzero(calls.answered & ~calls.none_found & (calls.component_id >= 0))
    cycles = found.exposure.fault_cycles
    at = cycles[repaired] if len(cycles) == len(calls.door) else np.full(len(repaired), np.nan)
    again = came_back(calls.door[repaired], calls.component_id[repaired], calls.day[repaired], at)
    return {
        Measure.REPEATS.value: np.stack(
            (
                frame.by_day(calls.door[repaired][again], calls.day[repaired][again]),
                frame.by_day(calls.door[repaired], calls.day[repaired]),
            )
        ),
        Measure.NONE_FOUND.value: np.stack(
            (
                frame.by_day(calls.door[calls.none_found], calls.day[calls.none_found]),
                frame.by_day(calls.door[calls.answered], calls.day[calls.answered]),
            )
        ),
    }


def _doors(
    found: DoorsFound, frame: Frame, record: ScoreRecord, cycles: Floats
) -> dict[str, Floats]:
    """Days off the road, doors read of late, and money for parts."""
    doors, used, count = found.fleet.doors, record.used, len(found.fleet.doors)
    served = np.diff(frame.edges) * _in_service(found, frame.edges[1:])
    laid = days_within(doors.lay_ups, frame.edges, count)
    off = days_within(record.off_road, frame.edges, count) * doors.in_service[:, None]
    price = np.array([record.prices.by_part.get(each, np.nan) for each in used.part_id.tolist()])
    money = np.nan_to_num(price) * used.quantity
    unpriced = np.where(np.isnan(price), used.quantity, 0.0)
    pieces = frame.by_day(used.door, used.day, used.quantity)
    return {
        Measure.OFF_ROAD.value: np.stack(
            (frame.of_doors(off), frame.of_doors(np.maximum(served - laid, 0.0)))
        ),
        Measure.FRESH.value: _fresh(found, frame),
        Measure.PARTS_COST.value: np.stack((frame.by_day(used.door, used.day, money), cycles)),
        Measure.UNPRICED.value: np.stack((frame.by_day(used.door, used.day, unpriced), pieces)),
    }


def _fresh(found: DoorsFound, frame: Frame) -> Floats:
    """Doors with a reading within 30 days of each month's end, of those in service."""
    ends = frame.edges[1:]
    series = found.usage.series
    door = series.door()[series.read]
    day = series.day[series.read]
    fresh = np.zeros((len(found.fleet.doors), len(ends)))
    for month, end in enumerate(ends.tolist()):
        fresh[door[(day > end - FRESH_DAYS) & (day <= end)], month] = 1.0
    served = _in_service(found, ends)
    return np.stack((frame.of_doors(fresh * served), frame.of_doors(served)))
