"""What is on its way to the depots and what is spoken for, as it was known at the time."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import F, Q, QuerySet, Sum

from analytics.datasets.as_known import before, not_before
from analytics.datasets.doors import DoorRows
from inspections.models import (
    OrderLine,
    OrderReceipt,
    OrderStep,
    OrderStepKind,
    PartReservation,
    PlaceKind,
    StockTransfer,
)

# The keys of a depot and of a part.
Spot = tuple[int, int]


@dataclass
class Coming:
    """Pieces by depot and part: ordered, on their way from another depot, and spoken for.

    `days` are those on which ordered pieces are expected; `unordered` are deliveries for which
    there was no order here, with their moments.
    """

    ordered: dict[Spot, int] = field(default_factory=dict)
    days: dict[Spot, list[date]] = field(default_factory=dict)
    unordered: dict[Spot, list[tuple[datetime, int]]] = field(default_factory=dict)
    arriving: dict[Spot, int] = field(default_factory=dict)
    reserved: dict[Spot, int] = field(default_factory=dict)


def fetch_coming(doors: DoorRows) -> Coming:
    """Orders, deliveries, transfers and reservations; runs five queries."""
    received, unordered = _deliveries(doors)
    steps = _steps(doors)
    coming = Coming(unordered=unordered)
    placed = OrderLine.objects.filter(before(doors, "order__depot", "order__placed_at"))
    for line in placed.select_related("order").order_by("pk"):
        spot = (line.order.depot_id, line.part_id)
        left = line.quantity - received[line.pk] - steps.called_off[line.pk]
        if left <= 0:
            continue
        coming.ordered[spot] = coming.ordered.get(spot, 0) + left
        day = steps.days.get(line.pk)
        if day:
            coming.days.setdefault(spot, []).append(day)
    coming.arriving = _on_the_way(doors)
    coming.reserved = _reserved(doors)
    return coming


def _deliveries(
    doors: DoorRows,
) -> tuple[defaultdict[int, int], dict[Spot, list[tuple[datetime, int]]]]:
    """Pieces received by order line, and what came without an order."""
    known = before(doors, "place__depot", "received_at", "entered_at")
    rows = OrderReceipt.objects.filter(known).filter(
        not_before(doors, "place__depot", "taken_back_at")
    )
    received: defaultdict[int, int] = defaultdict(int)
    unordered: dict[Spot, list[tuple[datetime, int]]] = {}
    columns = rows.order_by("pk").values_list(
        "line", "place__depot", "part", "received_at", "quantity"
    )
    for line, depot, part, received_at, quantity in columns:
        if line is None:
            unordered.setdefault((depot, part), []).append((received_at, quantity))
        else:
            received[line] += quantity
    return received, unordered


@dataclass
class _Steps:
    """By order line: pieces called off, and the day last named for the delivery."""

    called_off: defaultdict[int, int]
    days: dict[int, date]


def _steps(doors: DoorRows) -> _Steps:
    found = _Steps(defaultdict(int), {})
    rows = OrderStep.objects.filter(before(doors, "order__depot", "entered_at"))
    told = rows.filter(line__isnull=False).order_by("entered_at", "pk")
    for line, kind, day, pieces in told.values_list("line", "kind", "day", "pieces"):
        if kind == OrderStepKind.CALLED_OFF:
            found.called_off[line] += pieces
        elif day:
            found.days[line] = day
    return found


def _on_the_way(doors: DoorRows) -> dict[Spot, int]:
    way = "to_place__depot"
    rows = StockTransfer.objects.filter(before(doors, way, "sent_at"))
    rows = rows.filter(not_before(doors, way, "ended_at"))
    return _sums(rows.exclude(to_place__kind=PlaceKind.SET_ASIDE), way)


def _reserved(doors: DoorRows) -> dict[Spot, int]:
    rows = PartReservation.objects.filter(before(doors, "depot", "reserved_at"))
    return _sums(rows.filter(not_before(doors, "depot", "ended_at")), "depot")


def _sums(rows: QuerySet[Any], depot: str) -> dict[Spot, int]:
    grouped = rows.order_by().values_list(depot, "part").annotate(total=Sum("quantity"))
    return {(place, part): total for place, part, total in grouped}


def fetch_receipt_days(doors: DoorRows) -> dict[int, list[float]]:
    """Days from order to delivery by part, one for each delivery of an order; runs one query."""
    known = before(doors, "place__depot", "received_at", "entered_at")
    rows = OrderReceipt.objects.filter(known, Q(line__isnull=False)).filter(
        not_before(doors, "place__depot", "taken_back_at")
    )
    found: dict[int, list[float]] = {}
    taken = rows.annotate(placed_at=F("line__order__placed_at")).order_by("pk")
    for part, placed_at, received_at in taken.values_list("part", "placed_at", "received_at"):
        days = (received_at - placed_at).total_seconds() / 86_400
        found.setdefault(part, []).append(max(days, 0.0))
    return found
