"""A truck's maintenance record as it is printed: identification, what comes next, what was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from analytics.models import DueTask
from analytics.reports.basis import Basis
from analytics.reports.evidence import Evidence
from analytics.reports.standing import standing
from fleetdoors.models import Mounting, Truck
from fleetdoors.templatetags.units import UNKNOWN, cycles, number
from fleetdoors.templatetags.units import day as full_day
from inspections.truck_history import HistoryLine, Range, digest_of, history_of_truck

# The record that the rule asks for is of a year; two are shown unless others are asked for.
DAYS_SHOWN = 731


@dataclass(frozen=True)
class NextDue:
    """A coming task: its nature and its due date."""

    door: str
    task: str
    state: str
    due_on: str
    due_cycles: str
    interval: str


@dataclass(frozen=True)
class TruckRecord:
    """Everything on the print-out; `mark` is the same for the same record."""

    identification: list[Evidence]
    coming: list[NextDue]
    history: list[HistoryLine]
    within: Range
    mark: str


def truck_record(truck: Truck, basis: Basis, within: Range) -> TruckRecord:
    """The record of the days asked for; runs a constant number of queries."""
    history = history_of_truck(truck, within)
    return TruckRecord(
        identification=_identification(truck),
        coming=_coming(truck, basis),
        history=history,
        within=within,
        mark=digest_of(history),
    )


def range_asked_for(from_on: date | None, until_on: date | None, today: date) -> Range:
    """The days asked for, the last two years where none were; turned round where swapped."""
    until = until_on or today
    begin = from_on or until - timedelta(days=DAYS_SHOWN)
    return Range(min(begin, until), max(begin, until))


def _identification(truck: Truck) -> list[Evidence]:
    """The fields of 49 CFR 396.3(b)(1), and where the truck lives."""
    doors = Mounting.objects.open().filter(truck=truck).select_related("door__door_model")
    mounted = ", ".join(f"{each.door} ({each.door.door_model})" for each in doors)
    owner = truck.owner or _("our own")
    disposed = full_day(truck.disposed_on) if truck.disposed_on else _("in the fleet")
    lines = (
        (_("Company number"), truck.fleet_number),
        (_("Make"), truck.make),
        (_("Serial number"), truck.serial_number),
        (_("Year"), str(truck.model_year or "")),
        (_("Tire size"), truck.tire_size),
        (_("Furnished by"), owner),
        (_("Depot"), str(truck.depot)),
        (_("In service since"), full_day(truck.in_service_on) if truck.in_service_on else ""),
        (_("Left the fleet"), disposed),
        (_("Rear doors"), mounted),
    )
    return [Evidence(label, value or _("not on record"), "") for label, value in lines]


def _coming(truck: Truck, basis: Basis) -> list[NextDue]:
    rows = DueTask.objects.filter(generation=basis.run, truck=truck).with_links()
    return [_next_due(row, basis) for row in rows.soonest_first()]


def _next_due(row: DueTask, basis: Basis) -> NextDue:
    intervals = []
    if row.interval_cycles is not None:
        intervals.append(cycles(row.interval_cycles))
    if row.interval_days is not None:
        intervals.append(_("%(days)s days") % {"days": number(row.interval_days)})
    return NextDue(
        door=row.door.serial,
        task=str(row.task),
        state=str(standing(row, basis).label),
        due_on=full_day(row.due_on) if row.due_on else _("not within sight"),
        due_cycles=number(row.due_cycles) if row.due_cycles is not None else UNKNOWN,
        interval=_(" or ").join(intervals) or UNKNOWN,
    )
