"""Deliveries: pieces of an order, or without one, are put on the shelf; damaged ones set aside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Part, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import (
    MovementKind,
    OrderLine,
    OrderReceipt,
    PlaceKind,
    PurchaseOrder,
    StockLot,
    StockPlace,
    Supplier,
)
from inspections.moments import in_words
from inspections.services.issuing import Said
from inspections.services.ledger import (
    Entry,
    StockRefusedError,
    hold_depots,
    place_of_depot,
    put_pieces,
    take_pieces,
)
from inspections.services.order_state import held_order, settle_state


@dataclass(frozen=True)
class Delivered:
    """What came: pieces, how many of them are damaged, and what is marked on the packing."""

    quantity: int
    damaged: int = 0
    lot: str = ""
    revision: str = ""
    use_by_on: date | None = None
    delivery_note: str = ""
    note: str = ""


@transaction.atomic
def receive_line(
    *, line: OrderLine, delivered: Delivered, said: Said, place: StockPlace | None = None
) -> OrderReceipt:
    """Put pieces of an order line on the shelf, at most those still to come."""
    order = held_order(line.order)
    line = OrderLine.objects.select_related("part").get(pk=line.pk)
    _check_line(order, line, delivered, said)
    receipt = _receive(
        part=line.part,
        place=place or place_of_depot(order.depot),
        delivered=delivered,
        said=said,
        line=line,
        supplier=order.supplier,
    )
    line.received += delivered.quantity
    line.save(update_fields=("received",))
    settle_state(order, said.at)
    shelves_changed()
    return receipt


@transaction.atomic
def receive_without_order(
    *,
    part: Part,
    place: StockPlace,
    delivered: Delivered,
    said: Said,
    supplier: Supplier | None = None,
) -> OrderReceipt:
    """Put pieces on the shelf that no order of ours speaks of."""
    receipt = _receive(
        part=part, place=place, delivered=delivered, said=said, line=None, supplier=supplier
    )
    shelves_changed()
    return receipt


@transaction.atomic
def take_back_receipt(
    *, receipt: OrderReceipt, reason: str, entered_at: datetime, entered_by: User | None = None
) -> OrderReceipt:
    """A delivery was entered wrongly: its pieces leave again, and its line waits for them."""
    if not reason.strip():
        raise StockRefusedError(_("Say why: the reason is empty."), field="reason")
    order = held_order(receipt.line.order) if receipt.line else None
    hold_depots([receipt.place.depot])
    receipt = OrderReceipt.objects.select_related("line").get(pk=receipt.pk)
    if receipt.taken_back_at:
        raise StockRefusedError(_("This delivery was taken back before."), field="reason")
    for movement in receipt.stock_movements.filter(kind=MovementKind.RECEIPT).order_by("pk"):
        take_pieces(
            place=movement.place,
            part=movement.part,
            quantity=movement.quantity,
            lot=movement.lot_id,
            entry=Entry(
                kind=MovementKind.CORRECTION,
                moved_at=movement.moved_at,
                entered_at=entered_at,
                entered_by=entered_by,
                reason=reason,
                receipt=receipt,
                reverses=movement,
            ),
        )
    receipt.taken_back_at, receipt.taken_back_reason = entered_at, reason.strip()[:200]
    receipt.save(update_fields=("taken_back_at", "taken_back_reason"))
    if order and receipt.line:
        receipt.line.received -= receipt.quantity
        receipt.line.save(update_fields=("received",))
        settle_state(order, entered_at)
    shelves_changed()
    return receipt


def _receive(
    *,
    part: Part,
    place: StockPlace,
    delivered: Delivered,
    said: Said,
    line: OrderLine | None,
    supplier: Supplier | None,
) -> OrderReceipt:
    _check(delivered, said)
    hold_depots([place.depot])
    lot = _lot(part, delivered)
    receipt = OrderReceipt.objects.create(
        line=line,
        part=part,
        place=place,
        supplier=supplier,
        received_at=said.at,
        quantity=delivered.quantity,
        damaged=delivered.damaged,
        lot=lot,
        delivery_note=delivered.delivery_note.strip()[:80],
        note=delivered.note.strip()[:200],
        entered_at=said.entered_at,
        entered_by=said.by,
    )
    aside = place_of_depot(place.depot, PlaceKind.SET_ASIDE)
    good = delivered.quantity - delivered.damaged
    for where, pieces in ((place, good), (aside, delivered.damaged)):
        if pieces:
            put_pieces(
                place=where,
                part=part,
                quantity=pieces,
                lot=lot.pk if lot else None,
                entry=_entry(receipt, said, delivered),
            )
    return receipt


def _entry(receipt: OrderReceipt, said: Said, delivered: Delivered) -> Entry:
    return Entry(
        kind=MovementKind.RECEIPT,
        moved_at=said.at,
        entered_at=said.entered_at,
        entered_by=said.by,
        reason=delivered.note,
        receipt=receipt,
    )


def _lot(part: Part, delivered: Delivered) -> StockLot | None:
    """The lot named; a part with a shelf life gets one from its last day of use."""
    number = delivered.lot.strip()[:80]
    if not number and delivered.use_by_on:
        number = _("use by %(day)s") % {"day": delivered.use_by_on.isoformat()}
    if not number:
        return None
    lot, made = StockLot.objects.get_or_create(
        part=part,
        number=number,
        defaults={
            "revision": (delivered.revision or part.revision).strip()[:40],
            "use_by_on": delivered.use_by_on,
        },
    )
    if not made and delivered.use_by_on and lot.use_by_on != delivered.use_by_on:
        raise StockRefusedError(
            _("Lot %(lot)s is on record with another last day of use, %(day)s.")
            % {"lot": number, "day": lot.use_by_on or _("none")},
            field="use_by_on",
        )
    return lot


def _check(delivered: Delivered, said: Said) -> None:
    if delivered.quantity < 1:
        raise StockRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered.")
            % {"quantity": delivered.quantity}
        )
    if not 0 <= delivered.damaged <= delivered.quantity:
        raise StockRefusedError(
            _("At most what came is damaged: %(came)d came, %(damaged)d were entered.")
            % {"came": delivered.quantity, "damaged": delivered.damaged},
            field="damaged",
        )
    if said.at > said.entered_at:
        raise StockRefusedError(
            _("A delivery is not dated ahead: %(moment)s is in the future.")
            % {"moment": in_words(said.at)},
            field="received_at",
        )


def _check_line(order: PurchaseOrder, line: OrderLine, delivered: Delivered, said: Said) -> None:
    if not order.is_expected:
        raise StockRefusedError(
            _("Only an order that was placed is received: %(order)s is “%(state)s”.")
            % {"order": order, "state": order.get_state_display()}
        )
    if delivered.quantity > line.outstanding:
        raise StockRefusedError(
            _(
                "Of %(part)s %(left)d are still to come on this order, and %(came)d were entered. "
                "Receive what came beyond it as a delivery without an order."
            )
            % {"part": line.part, "left": line.outstanding, "came": delivered.quantity}
        )
    if order.placed_at and said.at < order.placed_at:
        raise StockRefusedError(
            _("What was ordered at %(moment)s did not come before that.")
            % {"moment": in_words(order.placed_at)},
            field="received_at",
        )
