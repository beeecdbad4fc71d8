"""Takes a count, or a part used at the truck, into the ledger as it is entered."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleetdoors.models import Depot, User
from fleetdoors.services.whereabouts import present_depot
from inspections.models import (
    MovementKind,
    PartUsed,
    StockCount,
    StockMovement,
    StockPlace,
)
from inspections.services.ledger import (
    Entry,
    hold_depots,
    place_of_depot,
    put_pieces,
    take_pieces_regardless,
    write_postings,
)
from inspections.services.ledger_book import read_book


@transaction.atomic
def book_count(count: StockCount) -> int:
    """Take a new count into the ledger; returns by how many pieces it differs from the record."""
    place = count.place or place_of_depot(count.depot)
    hold_depots([place.depot])
    book = read_book(place, count.part)
    postings = book.count(
        count.on_hand, count=count.pk, counted_at=count.counted_at, entered_at=count.entered_at
    )
    write_postings(place, count.part, postings, counted(count))
    return sum(each.quantity for each in postings if each.count == count.pk)


@transaction.atomic
def book_use(used: PartUsed) -> None:
    """Take a part used into the ledger: from the person's own van, the rest from the shelf."""
    depot = depot_of(used)
    if depot is None or not used.draws_on_stock:
        return
    hold_depots([depot])
    rest = used.quantity
    for van in StockPlace.objects.vans_of(used.entered_by, depot):
        there = max(read_book(van, used.part).on_hand, 0)
        taken = min(rest, there)
        if taken:
            take_pieces_regardless(place=van, part=used.part, quantity=taken, entry=used_up(used))
            rest -= taken
    if rest:
        take_pieces_regardless(
            place=place_of_depot(depot), part=used.part, quantity=rest, entry=used_up(used)
        )


@transaction.atomic
def book_use_taken_back(
    used: PartUsed, *, reason: str, entered_at: datetime, entered_by: User | None = None
) -> None:
    """Put the pieces of a use that was not one back to where they came from."""
    drawn = used.stock_movements.filter(kind=MovementKind.ISSUE, reversal__isnull=True)
    for movement in drawn.select_related("place__depot", "part", "door").order_by("pk"):
        put_pieces(
            place=movement.place,
            part=movement.part,
            quantity=-movement.quantity,
            lot=movement.lot_id,
            entry=_use_undone(movement, used, reason, entered_at, entered_by),
        )


def depot_of(used: PartUsed) -> Depot | None:
    """The depot noted, or else the door's own."""
    return used.depot or present_depot(used.door)


def counted(count: StockCount) -> Entry:
    """A count as the ledger enters it."""
    return Entry(
        kind=MovementKind.COUNT,
        moved_at=count.counted_at,
        entered_at=count.entered_at,
        entered_by=count.entered_by,
        reason=count.difference_reason,
        stock_count=count,
    )


def used_up(used: PartUsed) -> Entry:
    """A part used as the ledger enters it."""
    return Entry(
        kind=MovementKind.ISSUE,
        moved_at=used.used_at,
        entered_at=used.entered_at,
        entered_by=used.entered_by,
        door=used.door,
        part_used=used,
    )


def _use_undone(
    movement: StockMovement,
    used: PartUsed,
    reason: str,
    entered_at: datetime,
    entered_by: User | None,
) -> Entry:
    return Entry(
        kind=MovementKind.CORRECTION,
        moved_at=movement.moved_at,
        entered_at=entered_at,
        entered_by=entered_by,
        reason=reason,
        door=used.door,
        part_used=used,
        reverses=movement,
    )
