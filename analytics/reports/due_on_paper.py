"""What is due at a depot in the next weeks, week by week, for the wall of a workshop."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from analytics.models import DueTask
from analytics.reports.basis import Basis
from analytics.reports.standing import standing
from fleetdoors.models import Depot
from fleetdoors.templatetags.units import day_range, number
from fleetdoors.templatetags.units import short_day as near_day

MOST_WEEKS = 26
# As many lines as a person carries on paper.
MOST_LINES = 2_000
WEEK = timedelta(days=7)


@dataclass(frozen=True)
class PaperLine:
    """A task on a door, with room to write beside it."""

    truck: str
    door: str
    task: str
    state: str
    due_on: str
    between: str
    due_cycles: str
    minutes: int


@dataclass(frozen=True)
class PaperWeek:
    """The lines of one week, and the working time they take."""

    title: str
    lines: list[PaperLine]
    minutes: int


@dataclass(frozen=True)
class DueSheet:
    """The weeks with work in them; `left_out` lines did not fit."""

    weeks: list[PaperWeek]
    left_out: int


def due_sheet(depot: Depot, basis: Basis, weeks: int) -> DueSheet:
    """Tasks due until the end of the last week, what is late first; queries twice."""
    until = basis.today + WEEK * weeks
    due = DueTask.objects.filter(generation=basis.run, depot=depot, due_on__lt=until)
    rows = list(due.with_links().soonest_first()[: MOST_LINES + 1])
    by_week: dict[int, list[DueTask]] = {}
    for row in rows[:MOST_LINES]:
        by_week.setdefault(_week_of(row, basis.today), []).append(row)
    return DueSheet(
        [_week(week, by_week[week], basis) for week in sorted(by_week)],
        due.count() - MOST_LINES if len(rows) > MOST_LINES else 0,
    )


def _week_of(row: DueTask, today: date) -> int:
    """Weeks from now, -1 for what is past its day."""
    return -1 if row.due_on is None or row.due_on < today else (row.due_on - today).days // 7


def _week(week: int, rows: list[DueTask], basis: Basis) -> PaperWeek:
    begin = basis.today + WEEK * week
    title = _("Past its day") if week < 0 else day_range(begin, begin + WEEK - timedelta(days=1))
    lines = [_line(row, basis) for row in rows]
    return PaperWeek(title, lines, sum(line.minutes for line in lines))


def _line(row: DueTask, basis: Basis) -> PaperLine:
    early, late = row.due_on_early, None if row.beyond_horizon else row.due_on_late
    return PaperLine(
        truck=row.truck.fleet_number if row.truck else "",
        door=row.door.serial,
        task=str(row.task),
        state=str(standing(row, basis).label),
        due_on=near_day(row.due_on),
        between=day_range(early, late) if early and late else "",
        due_cycles=number(row.due_cycles),
        minutes=row.task.minutes,
    )
