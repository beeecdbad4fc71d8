"""Which truck is to be in the bay on which night, and for what."""

from __future__ import annotations

import numpy as np

from analytics.assessment.along import NO_TASK, REPAIR
from analytics.assessment.depot_plan import DepotProblem, assess_depot_plan
from analytics.assessment.due import assess_due
from analytics.assessment.plan_jobs import Catalogue
from analytics.assessment.schedule import week_as_known
from analytics.datasets.planning import fetch_planning
from analytics.figures.record import Record
from analytics.figures.words import Row
from analytics.kernel.schedule import Schedule, schedule_depots, visits_of
from fleetdoors.models import Depot

KEYS = ("depot", "date", "truck", "tasks", "minutes", "late_by_days")
TAKES = ("depot", "days", "as_of")
SECONDS_PER_DEPOT = 2.0
MOST_SECONDS = 50.0


def rows(record: Record) -> list[Row]:
    """One row per visit; tasks are joined by a plus sign, without those that another contains."""
    planning = fetch_planning(record.fleet.doors)
    catalogue = Catalogue(record.fleet.tasks, planning.tasks)
    due = assess_due(record.fleet, record.usage, record.exposure)
    depots = Depot.objects.order_by("code")
    if record.question.depot is not None:
        depots = depots.filter(code=record.question.depot)
    weeks = [
        week_as_known(
            record.fleet, record.usage, due, planning, depot=depot, days=record.question.days
        )
        for depot in depots
    ]
    work = [each for each in (assess_depot_plan(week, catalogue) for week in weeks) if each.jobs]
    if not work:
        return []
    plans = schedule_depots(
        [each.problem for each in work],
        seconds=min(SECONDS_PER_DEPOT * len(work), MOST_SECONDS),
    )
    pairs = zip(work, plans, strict=True)
    return [row for each, plan in pairs for row in _rows(record, each, plan, catalogue)]


def _rows(record: Record, work: DepotProblem, plan: Schedule, catalogue: Catalogue) -> list[Row]:
    trucks, visits = record.fleet.doors.trucks, visits_of(work.problem, plan)
    numbers = [trucks.numbers[k] for k in trucks.index_of(work.trucks[visits.truck]).tolist()]
    return [
        {
            "depot": work.week.depot.code,
            "date": str(work.week.night(night)),
            "truck": number,
            "tasks": "+".join(_names(work, plan, catalogue, truck, night)),
            "minutes": float(minutes),
            "late_by_days": int(late),
        }
        for number, truck, night, minutes, late in zip(
            numbers,
            visits.truck.tolist(),
            visits.night.tolist(),
            visits.minutes.tolist(),
            visits.late_nights.tolist(),
            strict=True,
        )
    ]


def _names(
    work: DepotProblem, plan: Schedule, catalogue: Catalogue, truck: int, night: int
) -> list[str]:
    """Names of the jobs of one visit, without those done along that a larger one contains."""
    tasks = catalogue.tasks
    rows = np.flatnonzero((work.problem.jobs.truck == truck) & (plan.night == night)).tolist()
    places = {row: catalogue.row(work.jobs[row].task) for row in rows}
    own = [row for row in rows if not plan.is_along[row] and places[row] != NO_TASK]
    named = {
        REPAIR if places[row] == NO_TASK else tasks.codes[places[row]]
        for row in rows
        if not plan.is_along[row]
        or not any(
            work.jobs[each].door == work.jobs[row].door
            and tasks.contains[places[each], places[row]]
            for each in own
        )
    }
    return sorted(named)
