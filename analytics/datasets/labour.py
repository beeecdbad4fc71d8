"""What work took and cost: minutes of visits, prices of an hour, invoices from outside."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from django.db.models import F

from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import EpochDays, EpochSeconds, Flags, Floats, Ints, fetch_table
from analytics.datasets.doors import DoorRows
from inspections.models import (
    LabourRate,
    OutsideInvoice,
    Visit,
    VisitJob,
    VisitMinutes,
    VisitState,
)


@dataclass(frozen=True)
class ClosedVisits:
    """Visits that ended: door row, wall-clock days of beginning and end, minutes (nan = not said).

    `repaired_door`, `repaired_epoch`: door row and moment of the finding of each fault that a
    visit with its own minutes had among its jobs.
    """

    door: Ints
    from_day: Floats
    until_day: Floats
    minutes: Floats
    repaired_door: Ints
    repaired_epoch: Ints


@dataclass(frozen=True)
class HourPrices:
    """Prices of an hour in one currency: depot row and first day, by depot and day."""

    depot: Ints
    from_day: Floats
    per_hour: Floats

    def on(self, depot: Ints, day: Floats) -> Floats:
        """The price in force at the depots on the days; nan where none has begun."""
        found = np.full(len(day), np.nan)
        for row in np.unique(self.depot).tolist():
            own, here = np.flatnonzero(self.depot == row), np.flatnonzero(depot == row)
            place = np.searchsorted(self.from_day[own], day[here], side="right") - 1
            found[here[place >= 0]] = self.per_hour[own[place[place >= 0]]]
        return found


@dataclass(frozen=True)
class OutsideWork:
    """Invoices and what takes them back: door row, day, amount, whether in the currency asked."""

    door: Ints
    day: Floats
    amount: Floats
    counts: Flags


def fetch_closed_visits(doors: DoorRows) -> ClosedVisits:
    """Visits that ended before each door's moment; runs three queries."""
    visits = fetch_table(
        Visit.objects.filter(state=VisitState.CLOSED),
        {
            "id": ("pk", np.int64),
            "door": ("door_id", np.int64),
            "from": (EpochSeconds("started_at"), np.int64),
            "until": (EpochSeconds("closed_at"), np.int64),
        },
    )
    door = doors.index_of(visits["door"])
    kept = (door >= 0) & (visits["until"] < doors.moment[door])
    visits, door = visits[kept], door[kept]
    minutes = _minutes(doors, visits["id"], door)
    timed = visits["id"][~np.isnan(minutes)]
    faults = fetch_table(
        VisitJob.objects.filter(fault__isnull=False, visit__state=VisitState.CLOSED),
        {
            "visit": ("visit_id", np.int64),
            "door": (F("fault__door_id"), np.int64),
            "found": (EpochSeconds("fault__found_at"), np.int64),
        },
    )
    own = np.isin(faults["visit"], timed)
    return ClosedVisits(
        door=door,
        from_day=doors.wall_days(door, visits["from"]),
        until_day=doors.wall_days(door, visits["until"]),
        minutes=minutes,
        repaired_door=doors.index_of(faults["door"][own]),
        repaired_epoch=faults["found"][own],
    )


def _minutes(doors: DoorRows, visit: Ints, door: Ints) -> Floats:
    """Minutes of each visit as they were known at its door's moment; nan = not said."""
    rows = fetch_table(
        VisitMinutes.objects.all(),
        {
            "visit": ("visit_id", np.int64),
            "minutes": ("minutes", np.float64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "superseded": (EpochSeconds("superseded_at"), np.float64),
        },
    )
    place = dict(zip(visit.tolist(), range(len(visit)), strict=True))
    at = np.array([place.get(each, -1) for each in rows["visit"].tolist()], dtype=np.int64)
    rows, at = rows[at >= 0], at[at >= 0]
    moment = doors.moment[door[at]]
    stands = (rows["entered"] < moment) & ~(rows["superseded"] < moment)
    found = np.full(len(visit), np.nan)
    found[at[stands]] = rows["minutes"][stands]
    return found


def fetch_hour_prices(doors: DoorRows, currency: str) -> HourPrices:
    """Prices in the currency, as they were known at each depot's moment; runs one query."""
    depots = doors.depots
    rows = fetch_table(
        LabourRate.objects.filter(currency=currency),
        {
            "depot": ("depot_id", np.float64),
            "from": (EpochDays("from_on"), np.float64),
            "price": ("per_hour", np.float64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "superseded": (EpochSeconds("superseded_at"), np.float64),
        },
    )
    depot = depots.index_of(rows["depot"])
    moment = depots.moment[depot]
    stands = (depot >= 0) & (rows["entered"] < moment) & ~(rows["superseded"] < moment)
    rows, depot = rows[stands], depot[stands]
    order = np.lexsort((rows["from"], depot))
    return HourPrices(depot[order], rows["from"][order], rows["price"][order])


def fetch_outside_work(doors: DoorRows, currency: str) -> OutsideWork:
    """Invoices of the doors, with the rows that take them back; runs one query."""
    rows = list(
        OutsideInvoice.objects.order_by("pk").values_list(
            "door_id", "invoiced_on", "amount", "currency", "entered_at"
        )
    )
    door = doors.index_of(np.array([row[0] for row in rows], dtype=np.int64))
    entered = np.array([row[4].timestamp() for row in rows], dtype=float)
    day = np.array([(row[1] - EPOCH_DATE).days for row in rows], dtype=float)
    known = (door >= 0) & (entered < doors.moment[door]) & (day < doors.limit_day[door])
    return OutsideWork(
        door=door[known],
        day=day[known],
        amount=np.array([float(row[2]) for row in rows])[known],
        counts=np.array([row[3] == currency for row in rows], dtype=bool)[known],
    )


def usual_currency() -> str:
    """The currency of most prices of an hour, else of most invoices; runs two queries at most."""
    for queryset in (LabourRate.objects.in_force(), OutsideInvoice.objects.in_force()):
        named = Counter(queryset.order_by("pk").values_list("currency", flat=True)).most_common(1)
        if named:
            return named[0][0]
    return ""
