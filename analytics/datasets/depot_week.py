"""What a depot's plan is made of, read from the figures shown and from what is planned already."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import inf

from analytics.datasets.depots import Depots, fetch_depots
from analytics.datasets.findings import Finding, fetch_findings
from analytics.datasets.planned_visits import PlannedVisit, fetch_choices, fetch_planned
from analytics.datasets.planning import TrainedPeople, fetch_trained
from analytics.datasets.week_hours import DepotHours, fetch_depot_hours
from analytics.models import Computation, DoorFigures, DueTask
from fleetdoors.models import Depot, LayUp

PULLED_FORWARD = timedelta(days=14)


@dataclass(frozen=True)
class DueRow:
    """A task of a door that falls due soon: ids, day, share of the interval used, half of it."""

    door: int
    task: int
    due_on: date
    share_used: float
    half_on: date


@dataclass(frozen=True)
class DepotWeek:
    """Everything about one depot's nights; `trucks` by door id, `choices` night by door id."""

    depot: Depot
    first_on: date
    nights: int
    trucks: Mapping[int, int]
    due: tuple[DueRow, ...]
    findings: tuple[Finding, ...]
    planned: tuple[PlannedVisit, ...]
    choices: Mapping[int, date]
    laid_up: tuple[tuple[int, date, date | None], ...]
    hours: DepotHours
    people: TrainedPeople
    depots: Depots

    @property
    def last_on(self) -> date:
        """The last night."""
        return self.night(self.nights - 1)

    def night(self, number: int) -> date:
        """The day on which a night begins, the first being 0."""
        return self.first_on + timedelta(days=number)


def fetch_depot_week(depot: Depot, *, first_on: date, nights: int, now: datetime) -> DepotWeek:
    """A depot's work, hours and planned visits; queries a constant number of times."""
    depots = fetch_depots(now)
    run = Computation.objects.current().first()
    trucks = dict(_mounted(depot))
    until = first_on + timedelta(days=nights) + PULLED_FORWARD
    return DepotWeek(
        depot=depot,
        first_on=first_on,
        nights=nights,
        trucks=trucks,
        due=tuple(_due_rows(depot, run, until, trucks)),
        findings=fetch_findings(dict.fromkeys(trucks, inf)),
        planned=tuple(fetch_planned(depot)),
        choices=fetch_choices(depot),
        laid_up=_laid_up(depot),
        hours=fetch_depot_hours()[depot.pk],
        people=fetch_trained(depots),
        depots=depots,
    )


def _mounted(depot: Depot) -> Iterable[tuple[int, int]]:
    """Doors in service by id with their trucks' ids."""
    return (
        depot.trucks.filter(
            mountings__removed_on__isnull=True, mountings__door__retired_on__isnull=True
        )
        .order_by()
        .values_list("mountings__door", "pk")
    )


def _due_rows(
    depot: Depot, run: Computation | None, until: date, trucks: Mapping[int, int]
) -> Iterable[DueRow]:
    """Listed tasks due before the day, of doors on trucks of the depot."""
    if run is None:
        return
    rates = {
        door: (cycles_now, per_day)
        for door, cycles_now, per_day in DoorFigures.objects.filter(generation=run, depot=depot)
        .order_by()
        .values_list("door", "cycles_now", "cycles_per_day")
    }
    rows = DueTask.objects.filter(generation=run, depot=depot, due_on__lt=until).order_by(
        "due_on", "door", "task"
    )
    computed_on = run.as_of_on or run.as_of.astimezone(depot.zone).date()
    for row in rows.values_list(
        "door", "task", "due_on", "share_used", "last_done_on", "last_done_cycles",
        "interval_days", "interval_cycles",
    ):  # fmt: skip
        door, task, due_on, share, done_on, done_cycles, days, cycles = row
        if door not in trucks or due_on is None:
            continue
        halves = [due_on]
        if done_on is not None and days is not None:
            halves.append(done_on + timedelta(days=days / 2))
        now, per_day = rates.get(door, (None, 0.0))
        if now is not None and done_cycles is not None and cycles is not None and per_day > 0:
            left = (done_cycles + cycles / 2 - now) / per_day
            halves.append(computed_on + timedelta(days=min(max(left, -3650.0), 3650.0)))
        yield DueRow(door, task, due_on, 1.0 if share is None else share, min(halves))


def _laid_up(depot: Depot) -> tuple[tuple[int, date, date | None], ...]:
    """Trucks out of use, with the days from and until."""
    rows = LayUp.objects.filter(truck__depot=depot).order_by("pk")
    return tuple(rows.values_list("truck", "from_on", "until_on"))
