"""What lies on the shelves, as it was known at the time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from django.db.models import Case, Max, Sum, Value, When

from analytics.datasets.as_known import before
from analytics.datasets.catalogue import Parts
from analytics.datasets.clock import EPOCH_DATE, latest_moment
from analytics.datasets.columns import Column, EpochDays, EpochSeconds, Floats, Table, fetch_table
from analytics.datasets.coming import Coming, Spot, fetch_coming, fetch_receipt_days
from analytics.datasets.doors import DoorRows
from inspections.models import MAKES_KNOWN, StockCount, StockMovement
from inspections.models.stock_place import FOR_WORK


@dataclass(frozen=True)
class Shelves:
    """By depot row and part row, (depots, parts); nan where nothing was ever counted or delivered.

    On hand is what can be fitted, on shelves and in vans; `reserved` is 0 where nothing is spoken
    for. `receipt_days` holds, by part row, the days that each delivery of an order took.
    """

    on_hand: Floats
    on_order: Floats
    expected_day: Floats
    service_level: Floats
    reserved: Floats
    receipt_days: Mapping[int, list[float]] = field(default_factory=dict)


def fetch_shelves(doors: DoorRows, parts: Parts) -> Shelves:
    """Balances of the ledger, what is on its way, and what is spoken for; runs eight queries."""
    shape = (len(doors.depots), len(parts.ids))
    spots = _Spots.of(doors, parts)
    shelves = Shelves(
        on_hand=np.full(shape, np.nan),
        on_order=np.full(shape, np.nan),
        expected_day=np.full(shape, np.nan),
        service_level=np.full(shape, np.nan),
        reserved=np.zeros(shape),
        receipt_days=_receipt_days(doors, parts),
    )
    for depot, part, total, is_known in _balances(doors):
        if is_known:
            spots.put(shelves.on_hand, (depot, part), total)
    counts = _latest_counts(_known_counts(doors))
    place = (doors.depots.index_of(counts["depot"]), parts.index_of(counts["part"]))
    shelves.service_level[place] = counts["service"]
    coming = fetch_coming(doors)
    shelves.on_order[~np.isnan(shelves.on_hand)] = 0.0
    _put_coming(shelves, spots, coming)
    _put_noted(shelves, spots, coming, counts)
    return shelves


@dataclass(frozen=True)
class _Spots:
    """Rows of depots and parts by their keys."""

    depots: Mapping[int, int]
    parts: Mapping[int, int]

    @classmethod
    def of(cls, doors: DoorRows, parts: Parts) -> _Spots:
        """Of the depots and parts of a record."""
        return cls(
            {key: row for row, key in enumerate(doors.depots.ids.tolist())},
            {key: row for row, key in enumerate(parts.ids.tolist())},
        )

    def put(self, table: Floats, spot: Spot, value: float) -> None:
        """Write a value where the depot and the part are known."""
        if spot[0] in self.depots and spot[1] in self.parts:
            table[self.depots[spot[0]], self.parts[spot[1]]] = value

    def get(self, table: Floats, spot: Spot) -> float:
        """The value at a spot, nan where the spot is unknown."""
        if spot[0] in self.depots and spot[1] in self.parts:
            return float(table[self.depots[spot[0]], self.parts[spot[1]]])
        return np.nan


def _balances(doors: DoorRows) -> Iterable[tuple[int, int, int, int]]:
    """Depot, part, the sum of the movements for work, and whether one makes it known."""
    known = before(doors, "place__depot", "moved_at", "entered_at")
    makes_known = Case(When(kind__in=MAKES_KNOWN, then=Value(1)), default=Value(0))
    rows: Any = (
        StockMovement.objects.filter(known, place__kind__in=FOR_WORK)
        .order_by()
        .values_list("place__depot", "part")
        .annotate(total=Sum("quantity"), known=Max(makes_known))
    )
    return rows


def _put_coming(shelves: Shelves, spots: _Spots, coming: Coming) -> None:
    for spot in {*coming.ordered, *coming.arriving}:
        pieces = coming.ordered.get(spot, 0) + coming.arriving.get(spot, 0)
        spots.put(shelves.on_order, spot, pieces)
    for spot, days in coming.days.items():
        spots.put(shelves.expected_day, spot, min((day - EPOCH_DATE).days for day in days))
    for spot, pieces in coming.reserved.items():
        spots.put(shelves.reserved, spot, pieces)


def _put_noted(shelves: Shelves, spots: _Spots, coming: Coming, counts: Table) -> None:
    """Add what a count noted as ordered elsewhere, less what came without an order since."""
    for row in counts[counts["on_order"] > 0]:
        spot = (int(row["depot"]), int(row["part"]))
        since = sum(
            pieces
            for moment, pieces in coming.unordered.get(spot, [])
            if moment.timestamp() > row["epoch"]
        )
        left = max(row["on_order"] - since, 0)
        already = spots.get(shelves.on_order, spot)
        spots.put(shelves.on_order, spot, left + (0.0 if np.isnan(already) else already))
        if left and not np.isnan(row["expected"]):
            day = np.fmin(row["expected"], spots.get(shelves.expected_day, spot))
            spots.put(shelves.expected_day, spot, float(day))


def _receipt_days(doors: DoorRows, parts: Parts) -> dict[int, list[float]]:
    found = fetch_receipt_days(doors)
    rows = parts.index_of(np.array(list(found), dtype=np.int64))
    return dict(zip(rows.tolist(), found.values(), strict=True))


def _known_counts(doors: DoorRows) -> Table:
    columns: dict[str, Column] = {
        "depot": ("depot_id", np.float64),
        "part": ("part_id", np.int64),
        "epoch": (EpochSeconds("counted_at"), np.int64),
        "on_order": ("on_order", np.float64),
        "expected": (EpochDays("expected_on"), np.float64),
        "service": ("service_level", np.float64),
        "entered": (EpochSeconds("entered_at"), np.int64),
        "superseded": (EpochSeconds("superseded_at"), np.float64),
    }
    shelf_counts = StockCount.objects.filter(place__isnull=True)
    known = shelf_counts.filter(counted_at__lt=latest_moment(doors.as_of))
    if isinstance(doors.as_of, datetime):
        return fetch_table(known.entered_before(doors.as_of), columns)
    rows = fetch_table(known, columns)
    moment = doors.depots.moment[doors.depots.index_of(rows["depot"])]
    stands = np.isnan(rows["superseded"]) | (rows["superseded"] >= moment)
    return rows[(rows["epoch"] < moment) & (rows["entered"] < moment) & stands]


def _latest_counts(rows: Table) -> Table:
    """The last count of each depot and part."""
    rows = rows[np.lexsort((rows["epoch"], rows["part"], rows["depot"]))]
    same = (rows["depot"][1:] == rows["depot"][:-1]) & (rows["part"][1:] == rows["part"][:-1])
    return rows[np.append(~same, True)] if len(rows) else rows
