"""Which truck a door was on, and at which depot, as it was known at the time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import QuerySet

from analytics.datasets.columns import EpochDays, EpochSeconds, Floats, Ints, Table, fetch_table
from analytics.datasets.depots import NO_DEPOT, Depots
from fleetdoors.models import LayUp, Mounting, Truck, TruckDepot

NO_TRUCK = -1


@dataclass(frozen=True)
class Trucks:
    """Trucks by fleet number; one more row, the last, stands for "no truck"."""

    ids: Ints
    numbers: tuple[str, ...]
    depot: Ints
    route_kinds: tuple[str, ...]

    def index_of(self, ids: Ints) -> Ints:
        """Row of each truck id; -1 where it is unknown."""
        if len(self.numbers) == 1:
            return np.full(len(ids), NO_TRUCK)
        order = np.argsort(self.ids)
        place = np.minimum(np.searchsorted(self.ids[order], ids), len(order) - 1)
        return np.where(self.ids[order][place] == ids, order[place], NO_TRUCK)


@dataclass(frozen=True)
class Mountings:
    """Stays of doors on trucks, known at the time: door id, truck row, days; nan = still there."""

    door_id: Ints
    truck: Ints
    from_day: Floats
    until_day: Floats


def fetch_trucks(depots: Depots, only: QuerySet[Truck]) -> Trucks:
    """Trucks at the depots where they were; runs two queries."""
    rows = list(
        only.order_by("fleet_number").values_list("id", "fleet_number", "depot_id", "route_kind")
    )
    ids = np.array([row[0] for row in rows], dtype=np.int64)
    depot = depots.index_of(np.array([row[2] for row in rows], dtype=float))
    trucks = Trucks(
        ids=ids,
        numbers=(*(row[1] for row in rows), ""),
        depot=np.append(depot, NO_DEPOT),
        route_kinds=(*(row[3] for row in rows), ""),
    )
    _put_back(trucks, depots, only)
    return trucks


def _put_back(trucks: Trucks, depots: Depots, only: QuerySet[Truck]) -> None:
    """Move trucks to the depot of a stay that has since ended, where one holds the moment."""
    stays = fetch_table(
        TruckDepot.objects.filter(truck__in=only, until_on__isnull=False),
        {
            "truck": ("truck_id", np.int64),
            "depot": ("depot_id", np.float64),
            "from": (EpochDays("from_on"), np.int64),
            "until": (EpochDays("until_on"), np.int64),
        },
    )
    row, depot = trucks.index_of(stays["truck"]), depots.index_of(stays["depot"])
    limit = depots.limit_day[depot]
    holds = (row >= 0) & (stays["from"] < limit) & (stays["until"] >= limit)
    trucks.depot[row[holds]] = depot[holds]


def fetch_mountings(depots: Depots, trucks: Trucks, only: QuerySet[Mounting]) -> Mountings:
    """Mountings known at the moment, an ending not yet known taken away; runs one query."""
    rows = fetch_table(
        only,
        {
            "door": ("door_id", np.int64),
            "truck": ("truck_id", np.int64),
            "from": (EpochDays("mounted_on"), np.float64),
            "until": (EpochDays("removed_on"), np.float64),
            "entered": (EpochSeconds("entered_at"), np.float64),
            "end_entered": (EpochSeconds("end_entered_at"), np.float64),
        },
    )
    truck = trucks.index_of(rows["truck"])
    depot = trucks.depot[truck]
    known = (rows["from"] < depots.limit_day[depot]) & (rows["entered"] < depots.moment[depot])
    until = known_end(rows["until"], rows["end_entered"], depot, depots)
    kept = known & (truck >= 0)
    return Mountings(rows["door"][kept], truck[kept], rows["from"][kept], until[kept])


def known_end(until_day: Floats, end_entered: Floats, depot: Ints, depots: Depots) -> Floats:
    """Days of ending, nan where the end lay ahead or was not yet entered."""
    passed = until_day < depots.limit_day[depot]
    entered = np.isnan(end_entered) | (end_entered < depots.moment[depot])
    return np.where(passed & entered, until_day, np.nan)


def fetch_lay_ups(only: QuerySet[LayUp]) -> Table:
    """Lay-ups by truck id, with days; runs one query."""
    return fetch_table(
        only,
        {
            "truck": ("truck_id", np.int64),
            "from": (EpochDays("from_on"), np.float64),
            "until": (EpochDays("until_on"), np.float64),
        },
    )
