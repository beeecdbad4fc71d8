"""Reads what the ledger holds of parts at places into the books that its arithmetic works on."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from fleetdoors.models import Part
from inspections.models import PlaceKind, StockCount, StockLot, StockMovement, StockPlace
from inspections.stock_book import Anchor, Book, Line

_Counted = tuple[int, datetime, datetime, datetime | None]


def read_book(place: StockPlace, part: Part) -> Book:
    """The book of one part at one place; queries three times."""
    rows = StockMovement.objects.of(place, part).values_list("moved_at", "quantity", "lot")
    lines = [Line(*row) for row in rows]
    lots = StockLot.objects.filter(pk__in={line.lot for line in lines if line.lot is not None})
    return Book(
        lines=lines,
        anchors=anchors_of(_counts(place, part)),
        use_by=dict(lots.values_list("pk", "use_by_on")),
    )


def anchors_of(counts: Iterable[_Counted]) -> list[Anchor]:
    """Counts in force, each with the moment at which that day and hour was first on record."""
    rows = list(counts)
    first: dict[datetime, datetime] = {}
    for _pk, counted_at, entered_at, _superseded_at in rows:
        first[counted_at] = min(entered_at, first.get(counted_at, entered_at))
    return [
        Anchor(counted_at, first[counted_at], pk)
        for pk, counted_at, _entered_at, superseded_at in rows
        if superseded_at is None
    ]


def _counts(place: StockPlace, part: Part) -> Iterable[_Counted]:
    """Counts that the ledger has taken up; one being entered is not among them yet."""
    counts = StockCount.objects.filter(part=part, stock_movements__place=place)
    if place.kind == PlaceKind.SHELF:
        counts = counts.filter(depot_id=place.depot_id, place__isnull=True)
    else:
        counts = counts.filter(place=place)
    return counts.distinct().values_list("pk", "counted_at", "entered_at", "superseded_at")
