"""A depot's nights as they were known, for the plan of figures: the same work as in every plan."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

import numpy as np

from analytics.assessment.due import DueFound
from analytics.assessment.usage import UsageFound
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats
from analytics.datasets.depot_week import PULLED_FORWARD, DepotWeek, DueRow
from analytics.datasets.fleet import Fleet
from analytics.datasets.planned_visits import fetch_choices, fetch_planned
from analytics.datasets.planning import Planning
from fleetdoors.models import Depot

LEAST_SHARE_USED = 0.5
_FAR = 3650.0


def week_as_known(
    fleet: Fleet,
    usage: UsageFound,
    due: DueFound,
    planning: Planning,
    *,
    depot: Depot,
    days: int,
) -> DepotWeek:
    """The depot's work, hours and planned visits from `as_of` on; queries three times."""
    doors = fleet.doors
    row = int(np.flatnonzero(doors.depots.ids == depot.pk)[0])
    known_at = datetime.fromtimestamp(float(doors.depots.moment[row]), UTC)
    here = doors.in_service & (doors.depot == row) & (doors.truck >= 0)
    first_on = _date(float(doors.depots.day[row]))
    trucks = dict(
        zip(doors.ids[here].tolist(), doors.trucks.ids[doors.truck[here]].tolist(), strict=True)
    )
    return DepotWeek(
        depot=depot,
        first_on=first_on,
        nights=days,
        trucks=trucks,
        due=tuple(_due_rows(fleet, usage, due, here, first_on + timedelta(days=days))),
        findings=tuple(each for each in planning.findings if each.door in trucks),
        planned=tuple(fetch_planned(depot, known_at)),
        choices=fetch_choices(depot, known_at),
        laid_up=tuple(_laid_up(fleet, here)),
        hours=planning.hours[depot.pk],
        people=planning.trained,
        depots=doors.depots,
    )


def _due_rows(
    fleet: Fleet, usage: UsageFound, due: DueFound, here: Flags, until: date
) -> Iterable[DueRow]:
    """Tasks due in the days, or soon enough after to be done when the truck is in anyway."""
    last = (until + PULLED_FORWARD - EPOCH_DATE).days
    due_day = np.floor(due.due.due_day)
    chosen = np.flatnonzero(here[due.door] & (due_day < last))
    half = _half_used_day(fleet, usage, due)[chosen]
    share = np.nan_to_num(due.due.share_used[chosen], nan=1.0)
    columns = (
        fleet.doors.ids[due.door[chosen]], fleet.tasks.ids[due.task[chosen]], due_day[chosen],
        share, np.fmin(half, due_day[chosen]),
    )  # fmt: skip
    for door, task, on, used, half_on in zip(*(each.tolist() for each in columns), strict=True):
        yield DueRow(door, task, _date(on), used, _date(half_on))


def _half_used_day(fleet: Fleet, usage: UsageFound, due: DueFound) -> Floats:
    """Day from which half of each interval is used up, by cycles or by days, (p,); nan = never."""
    tasks, now = due.tasks, fleet.doors.day[due.door]
    per_day = np.maximum(usage.usage.cycles_per_day[tasks.door], 1e-9)
    left = (LEAST_SHARE_USED * tasks.interval_cycles - due.due.cycles_used) / per_day
    by_days = tasks.last_done_day + LEAST_SHARE_USED * tasks.interval_days
    return np.ceil(np.fmin(now + np.clip(left, -_FAR, _FAR), by_days))


def _laid_up(fleet: Fleet, here: Flags) -> Iterable[tuple[int, date, date | None]]:
    """Trucks out of use as far as that was known, with the days from and until."""
    doors, laid = fleet.doors, fleet.doors.lay_ups
    for k in np.flatnonzero(here[laid.door]).tolist():
        until = float(laid.until_day[k])
        truck = int(doors.trucks.ids[doors.truck[laid.door[k]]])
        yield truck, _date(float(laid.from_day[k])), None if np.isinf(until) else _date(until)


def _date(day: float) -> date:
    return EPOCH_DATE + timedelta(days=int(np.floor(day)))
