"""The ledger of stock: the only way in which pieces come and go.

Whoever writes holds the places of the depots concerned, in one order, until the transaction ends:
what was read before a decision still holds when the movement is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, Part, User
from inspections.models import (
    MAKES_KNOWN,
    MovementKind,
    OrderReceipt,
    PartReservation,
    PartReturn,
    PartUsed,
    PlaceKind,
    StockBalance,
    StockCount,
    StockMovement,
    StockPlace,
    StockTransfer,
)
from inspections.services.ledger_book import read_book
from inspections.stock_book import Book, Posting

BALANCE = ("on_hand", "movements", "is_known", "needs_count")


class StockRefusedError(ValueError):
    """The movement cannot be; nothing was changed. `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "quantity") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Entry:
    """Why pieces move, when, who says so, and what the movement rests on."""

    kind: str
    moved_at: datetime
    entered_at: datetime
    entered_by: User | None = None
    reason: str = ""
    door: DoorUnit | None = None
    part_used: PartUsed | None = None
    stock_count: StockCount | None = None
    receipt: OrderReceipt | None = None
    transfer: StockTransfer | None = None
    part_return: PartReturn | None = None
    reverses: StockMovement | None = None


def place_of_depot(depot: Depot, kind: str = PlaceKind.SHELF) -> StockPlace:
    """The depot's shelf, or its corner for pieces set aside; made where it is wanted first."""
    return StockPlace.objects.get_or_create(depot=depot, kind=kind)[0]


def hold_depots(depots: Iterable[Depot]) -> None:
    """Keep every place of the depots from other writers until the transaction ends."""
    keys = sorted({depot.pk for depot in depots})
    for depot in Depot.objects.filter(pk__in=keys).order_by("pk"):
        place_of_depot(depot)
    places = StockPlace.objects.filter(depot__in=keys).order_by("pk")
    # Rows that point to a place may still be written: they do not change its stock.
    list(places.select_for_update(no_key=True).values_list("pk", flat=True))


@transaction.atomic
def put_pieces(
    *, place: StockPlace, part: Part, quantity: int, entry: Entry, lot: int | None = None
) -> list[StockMovement]:
    """Pieces come to a place."""
    _check_quantity(quantity)
    book = _held_book(place, part)
    postings = book.move(quantity, moved_at=entry.moved_at, entered_at=entry.entered_at, lot=lot)
    return write_postings(place, part, postings, entry)


@transaction.atomic
def take_pieces(
    *, place: StockPlace, part: Part, quantity: int, entry: Entry, lot: int | None = None
) -> list[StockMovement]:
    """Pieces leave a place that has them; one that has too few refuses."""
    _check_quantity(quantity)
    book = _held_book(place, part)
    there = book.by_lot().get(lot, 0) if lot is not None else book.on_hand
    if quantity > there:
        raise StockRefusedError(
            _(
                "%(place)s holds %(there)d of %(part)s, and %(wanted)d were asked for. "
                "Nothing was taken."
            )
            % {"part": part, "place": place, "there": max(there, 0), "wanted": quantity}
        )
    if entry.kind == MovementKind.ISSUE:
        _check_free(place, part, quantity, book.usable(_day(place, entry)))
    return write_postings(place, part, _taken(book, place, quantity, entry, lot), entry)


@transaction.atomic
def take_pieces_regardless(
    *, place: StockPlace, part: Part, quantity: int, entry: Entry
) -> list[StockMovement]:
    """Pieces that are gone already: what the record did not know of is flagged for a count."""
    _check_quantity(quantity)
    book = _held_book(place, part)
    return write_postings(place, part, _taken(book, place, quantity, entry, None), entry)


def write_postings(
    place: StockPlace, part: Part, postings: Sequence[Posting], entry: Entry
) -> list[StockMovement]:
    """Write movements after those on record, and the balance with them; the place is held."""
    balance = StockBalance.objects.get_or_create(place=place, part=part)[0]
    written = movements_of(balance, postings, entry)
    StockMovement.objects.bulk_create(written)
    balance.save(update_fields=BALANCE)
    return written


def movements_of(
    balance: StockBalance, postings: Sequence[Posting], entry: Entry
) -> list[StockMovement]:
    """The rows to write for postings, numbered; the balance follows them, both unsaved."""
    written = []
    for number, posting in enumerate(postings):
        balance.on_hand += posting.quantity
        balance.movements += 1
        written.append(_movement(balance, posting, entry, is_first=number == 0))
    balance.is_known |= any(movement.kind in MAKES_KNOWN for movement in written)
    if entry.kind == MovementKind.COUNT and balance.on_hand >= 0:
        balance.needs_count = False
    balance.needs_count |= balance.on_hand < 0
    return written


def _movement(
    balance: StockBalance, posting: Posting, entry: Entry, *, is_first: bool
) -> StockMovement:
    counted = entry.stock_count.pk if entry.stock_count else None
    is_own = posting.count == counted
    return StockMovement(
        place_id=balance.place_id,
        part_id=balance.part_id,
        sequence=balance.movements,
        kind=entry.kind if is_own else MovementKind.COUNT,
        quantity=posting.quantity,
        balance_after=balance.on_hand,
        is_beyond_record=balance.on_hand < 0,
        lot_id=posting.lot,
        moved_at=posting.moved_at,
        entered_at=posting.entered_at,
        entered_by=entry.entered_by,
        reason=(entry.reason if is_own else _("entered after the count that saw it")).strip()[:200],
        door=entry.door,
        part_used=entry.part_used,
        stock_count_id=posting.count,
        receipt=entry.receipt,
        transfer=entry.transfer,
        part_return=entry.part_return,
        reverses=entry.reverses if is_first else None,
    )


def _held_book(place: StockPlace, part: Part) -> Book:
    hold_depots([place.depot])
    return read_book(place, part)


def _taken(
    book: Book, place: StockPlace, quantity: int, entry: Entry, lot: int | None
) -> list[Posting]:
    moments = {"moved_at": entry.moved_at, "entered_at": entry.entered_at}
    if lot is not None:
        return book.move(-quantity, **moments, lot=lot)
    return book.take(quantity, **moments, today=_day(place, entry))


def _check_quantity(quantity: int) -> None:
    if quantity < 1:
        raise StockRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered.") % {"quantity": quantity}
        )


def _check_free(place: StockPlace, part: Part, quantity: int, usable: int) -> None:
    """Refuse for work what is past its last day of use, or kept for other work."""
    facts = {"part": part, "place": place, "usable": max(usable, 0)}
    if quantity > usable:
        raise StockRefusedError(
            _(
                "%(place)s holds only %(usable)d of %(part)s within their last day of use. "
                "Set the others aside."
            )
            % facts
        )
    reserved = reserved_pieces(place.depot, part) if place.kind == PlaceKind.SHELF else 0
    if quantity > usable - reserved:
        raise StockRefusedError(
            _(
                "%(place)s holds %(usable)d of %(part)s, and %(reserved)d are kept for planned "
                "work. Give a reservation free first."
            )
            % {**facts, "reserved": reserved}
        )


def _day(place: StockPlace, entry: Entry) -> date:
    """The day of a movement by the clock of its depot."""
    return entry.moved_at.astimezone(place.depot.zone).date()


def reserved_pieces(depot: Depot, part: Part) -> int:
    """Pieces at the depot that are spoken for; queries once."""
    standing = PartReservation.objects.standing().filter(depot=depot, part=part)
    return sum(standing.values_list("quantity", flat=True))
