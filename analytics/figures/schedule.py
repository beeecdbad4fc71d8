"""Which truck is to be in the bay on which night, and for what."""

from __future__ import annotations

import numpy as np

from analytics.assessment.due import assess_due
from analytics.assessment.schedule import DepotWork, assess_depot_work, tasks_named
from analytics.datasets.columns import Ints
from analytics.datasets.planning import fetch_planning
from analytics.figures.record import Record
from analytics.figures.words import Row, day
from analytics.kernel.schedule import Schedule, schedule_depots, visits_of

KEYS = ("depot", "date", "truck", "tasks", "minutes", "late_by_days")
TAKES = ("depot", "days", "as_of")
SECONDS_PER_DEPOT = 2.0
MOST_SECONDS = 50.0


def rows(record: Record) -> list[Row]:
    """One row per visit; tasks are joined by a plus sign, without those that another contains."""
    work = [each for each in _work(record) if len(each.door)]
    if not work:
        return []
    plans = schedule_depots(
        [each.problem for each in work],
        seconds=min(SECONDS_PER_DEPOT * len(work), MOST_SECONDS),
    )
    return [
        row for each, plan in zip(work, plans, strict=True) for row in _rows(record, each, plan)
    ]


def _work(record: Record) -> list[DepotWork]:
    question, depots = record.question, record.fleet.doors.depots
    due = assess_due(record.fleet, record.usage, record.exposure)
    planning = fetch_planning(record.fleet.doors)
    codes = depots.codes[:-1] if question.depot is None else (question.depot,)
    return [
        assess_depot_work(
            record.fleet,
            record.usage,
            due,
            planning,
            depot=depots.codes.index(code),
            days=question.days,
        )
        for code in codes
    ]


def _rows(record: Record, work: DepotWork, plan: Schedule) -> list[Row]:
    doors, visits = record.fleet.doors, visits_of(work.problem, plan)
    return [
        {
            "depot": doors.depots.codes[work.depot],
            "date": day(work.first_day + night),
            "truck": doors.trucks.numbers[work.trucks[truck]],
            "tasks": "+".join(_names(record, work, plan, truck, night)),
            "minutes": float(minutes),
            "late_by_days": int(late),
        }
        for truck, night, minutes, late in zip(
            visits.truck.tolist(),
            visits.night.tolist(),
            visits.minutes.tolist(),
            visits.late_nights.tolist(),
            strict=True,
        )
    ]


def _names(record: Record, work: DepotWork, plan: Schedule, truck: int, night: int) -> list[str]:
    jobs: Ints = np.flatnonzero((work.problem.jobs.truck == truck) & (plan.night == night))
    return list(dict.fromkeys(tasks_named(record.fleet, work, plan, jobs)))
