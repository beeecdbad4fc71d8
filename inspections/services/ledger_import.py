"""Takes all that an import brought into the ledger: counts, uses, deliveries, what else moved.

An imported use is history and moves nothing unless it draws on the stock. Everything becomes
movements in the order in which it was entered, so that the stock known at any past moment stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, Part
from inspections.models import (
    MovementKind,
    OrderReceipt,
    PartUsed,
    PlaceKind,
    StockBalance,
    StockCount,
    StockMovement,
    StockPlace,
)
from inspections.services.ledger import BALANCE, Entry, hold_depots, movements_of, place_of_depot
from inspections.services.ledger_book import read_book
from inspections.services.ledger_record import counted, depot_of, used_up
from inspections.stock_book import Book


@dataclass(eq=False)
class ToBook:
    """A movement that rests on none of these, not yet numbered, and the new one it takes back.

    `row` is the movement as the ledger writes it.
    """

    said: StockMovement
    takes_back: ToBook | None = None
    row: StockMovement | None = None


@transaction.atomic
def book_what_is_not_booked(moved: Sequence[ToBook] = ()) -> int:
    """Take every count, use and delivery into the ledger that it does not hold yet; how many.

    `moved`: what else moved, booked with them in the order of entry.
    """
    counts = StockCount.objects.filter(stock_movements__isnull=True)
    uses = PartUsed.objects.filter(draws_on_stock=True, stock_movements__isnull=True)
    receipts = OrderReceipt.objects.filter(stock_movements__isnull=True)
    prefetch_related_objects(
        [each.said for each in moved], "place__depot", "part", "entered_by", "door", "transfer"
    )
    pairs = _by_place_and_part(
        list(counts.select_related("depot", "part", "place__depot")),
        list(uses.select_related("depot", "part", "door")),
        list(receipts.select_related("part", "place__depot", "entered_by")),
        moved,
    )
    hold_depots({pair.place.depot for pair in pairs})
    rows: list[StockMovement] = []
    balances = _balances(pairs)
    for pair, balance in zip(pairs, balances, strict=True):
        rows += pair.written(balance)
    _write_rows(rows, moved)
    StockBalance.objects.bulk_update(balances, BALANCE, batch_size=500)
    return sum(len(pair.events) for pair in pairs)


@dataclass(frozen=True)
class _Event:
    """A count, a use or a delivery, at the moment it was entered, corrected or taken back."""

    entered_at: datetime
    rank: int
    count: StockCount | None = None
    used: PartUsed | None = None
    came: _Came | None = None
    moved: ToBook | None = None


@dataclass(frozen=True)
class _Came:
    """Pieces of a delivery at one place: the good ones, or those set aside."""

    receipt: OrderReceipt
    pieces: int


@dataclass
class _Pair:
    """What is to be booked of one part at one place."""

    place: StockPlace
    part: Part
    events: list[_Event] = field(default_factory=list)

    def written(self, balance: StockBalance) -> list[StockMovement]:
        """The movements of the events in the order in which they were entered."""
        book = read_book(self.place, self.part) if balance.movements else Book()
        rows: list[StockMovement] = []
        for event in sorted(self.events, key=lambda each: (each.entered_at, each.rank)):
            if event.count:
                count = event.count
                postings = book.count(
                    count.on_hand,
                    count=count.pk,
                    counted_at=count.counted_at,
                    entered_at=count.entered_at,
                )
                rows += movements_of(balance, postings, counted(count))
            elif event.used:
                quantity, entry = _draw(event)
                postings = book.move(quantity, moved_at=entry.moved_at, entered_at=entry.entered_at)
                rows += movements_of(balance, postings, entry)
            elif event.came:
                quantity, entry = _delivery(event, event.came)
                postings = book.move(
                    quantity,
                    moved_at=entry.moved_at,
                    entered_at=entry.entered_at,
                    lot=event.came.receipt.lot_id,
                )
                rows += movements_of(balance, postings, entry)
            elif event.moved:
                said = event.moved.said
                postings = book.move(
                    said.quantity,
                    moved_at=said.moved_at,
                    entered_at=said.entered_at,
                    lot=said.lot_id,
                )
                written = movements_of(balance, postings, _said(said))
                event.moved.row = written[0]
                rows += written
        return rows


def _write_rows(rows: list[StockMovement], moved: Sequence[ToBook]) -> None:
    """Write the movements; one that takes back another after that one."""
    later = {id(each.row): each for each in moved if each.takes_back}
    at_once = [row for row in rows if id(row) not in later]
    StockMovement.objects.bulk_create(at_once, batch_size=500)
    for each in later.values():
        if each.row and each.takes_back:
            each.row.reverses = each.takes_back.row
            each.row.save()


def _balances(pairs: list[_Pair]) -> list[StockBalance]:
    """The balance of each pair, made where there is none; queries twice."""
    keys = {(pair.place.pk, pair.part.pk) for pair in pairs}
    places = {place for place, _part in keys}
    there = {
        (balance.place_id, balance.part_id): balance
        for balance in StockBalance.objects.filter(place__in=places)
    }
    missing = [
        StockBalance(place_id=place, part_id=part) for place, part in sorted(keys - set(there))
    ]
    for balance in StockBalance.objects.bulk_create(missing, batch_size=500):
        there[balance.place_id, balance.part_id] = balance
    return [there[pair.place.pk, pair.part.pk] for pair in pairs]


def _by_place_and_part(
    counts: list[StockCount],
    uses: list[PartUsed],
    receipts: list[OrderReceipt],
    moved: Sequence[ToBook],
) -> list[_Pair]:
    shelves: dict[int, StockPlace] = {}
    pairs: dict[tuple[int, int], _Pair] = {}

    def shelf(depot: Depot) -> StockPlace:
        if depot.pk not in shelves:
            shelves[depot.pk] = place_of_depot(depot)
        return shelves[depot.pk]

    def add(place: StockPlace, part: Part, event: _Event) -> None:
        pairs.setdefault((place.pk, part.pk), _Pair(place, part)).events.append(event)

    for count in counts:
        add(count.place or shelf(count.depot), count.part, _Event(count.entered_at, 1, count=count))
    for used in uses:
        depot = depot_of(used)
        if depot is None:
            continue
        add(shelf(depot), used.part, _Event(used.entered_at, 0, used=used))
        if used.superseded_at:
            add(shelf(depot), used.part, _Event(used.superseded_at, 2, used=used))
    for receipt in receipts:
        for place, came in _shares(receipt):
            add(place, receipt.part, _Event(receipt.entered_at, 0, came=came))
            if receipt.taken_back_at:
                add(place, receipt.part, _Event(receipt.taken_back_at, 2, came=came))
    for each in moved:
        add(each.said.place, each.said.part, _Event(each.said.entered_at, 0, moved=each))
    return list(pairs.values())


def _shares(receipt: OrderReceipt) -> list[tuple[StockPlace, _Came]]:
    """What of a delivery went to its place, and what was set aside at once."""
    good = receipt.quantity - receipt.damaged
    shares = [(receipt.place, _Came(receipt, good))] if good else []
    if receipt.damaged:
        aside = place_of_depot(receipt.place.depot, PlaceKind.SET_ASIDE)
        shares.append((aside, _Came(receipt, receipt.damaged)))
    return shares


def _said(said: StockMovement) -> Entry:
    return Entry(
        kind=said.kind,
        moved_at=said.moved_at,
        entered_at=said.entered_at,
        entered_by=said.entered_by,
        reason=said.reason,
        door=said.door,
        transfer=said.transfer,
        reverses=StockMovement.objects.get(pk=said.reverses_id) if said.reverses_id else None,
    )


def _delivery(event: _Event, came: _Came) -> tuple[int, Entry]:
    """Pieces as they were delivered, or as the delivery was taken back later."""
    receipt, is_first = came.receipt, event.rank == 0
    return came.pieces if is_first else -came.pieces, Entry(
        kind=MovementKind.RECEIPT if is_first else MovementKind.CORRECTION,
        moved_at=receipt.received_at,
        entered_at=event.entered_at,
        entered_by=receipt.entered_by,
        reason=receipt.note if is_first else receipt.taken_back_reason,
        receipt=receipt,
    )


def _draw(event: _Event) -> tuple[int, Entry]:
    """A use as it was entered, or as it was corrected later."""
    used = event.used
    if used is None:
        raise TypeError("a draw is an event of a part used")
    if event.rank == 0:
        return -used.quantity, used_up(used)
    return used.quantity, Entry(
        kind=MovementKind.CORRECTION,
        moved_at=used.used_at,
        entered_at=event.entered_at,
        reason=_("the use was corrected"),
        door=used.door,
        part_used=used,
    )
