"""Pieces go from one place to another: within a depot at once, between depots in two legs."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Part, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import MovementKind, PlaceKind, StockLot, StockPlace, StockTransfer
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


@transaction.atomic
def send_pieces(
    *,
    from_place: StockPlace,
    to_place: StockPlace,
    part: Part,
    quantity: int,
    said: Said,
    note: str = "",
    lot: StockLot | None = None,
) -> StockTransfer:
    """Take pieces off a place; to another depot they are on their way until somebody has them."""
    _check_departure(from_place, to_place, said)
    hold_depots([from_place.depot, to_place.depot])
    transfer = StockTransfer(
        part=part,
        from_place=from_place,
        to_place=to_place,
        quantity=quantity,
        sent_at=said.at,
        sent_by=said.by,
        note=note.strip()[:200],
    )
    if quantity >= 1:
        transfer.save()
    take_pieces(
        place=from_place,
        part=part,
        quantity=quantity,
        entry=_leg(MovementKind.SENT, transfer, said, note),
        lot=lot.pk if lot else None,
    )
    if from_place.depot_id == to_place.depot_id:
        return receive_pieces(transfer=transfer, arrived=quantity, said=said)
    shelves_changed()
    return transfer


@transaction.atomic
def receive_pieces(
    *, transfer: StockTransfer, arrived: int, said: Said, shortfall_reason: str = ""
) -> StockTransfer:
    """Put what arrived at its place, in the lots in which it left; what is missing says why."""
    hold_depots([transfer.from_place.depot, transfer.to_place.depot])
    transfer = StockTransfer.objects.with_links().get(pk=transfer.pk)
    _check_arrival(transfer, arrived, said.at, shortfall_reason)
    transfer.arrived, transfer.ended_at, transfer.ended_by = arrived, said.at, said.by
    transfer.shortfall_reason = shortfall_reason.strip()[:200] if _is_short(transfer) else ""
    transfer.save()
    left = arrived
    sent = transfer.stock_movements.filter(kind=MovementKind.SENT, quantity__lt=0)
    for movement in sent.order_by("pk"):
        share = min(left, -movement.quantity)
        if share:
            put_pieces(
                place=transfer.to_place,
                part=transfer.part,
                quantity=share,
                lot=movement.lot_id,
                entry=_leg(MovementKind.ARRIVED, transfer, said, transfer.shortfall_reason),
            )
        left -= share
    shelves_changed()
    return transfer


@transaction.atomic
def call_back_transfer(
    *, transfer: StockTransfer, reason: str, entered_at: datetime, entered_by: User | None = None
) -> StockTransfer:
    """Pieces on their way are back where they came from: nothing arrives."""
    hold_depots([transfer.from_place.depot, transfer.to_place.depot])
    transfer = StockTransfer.objects.with_links().get(pk=transfer.pk)
    if not transfer.is_on_the_way:
        raise StockRefusedError(_("Only what is on its way is called back."), field="reason")
    if not reason.strip():
        raise StockRefusedError(_("Say why: the reason is empty."), field="reason")
    transfer.arrived, transfer.ended_at, transfer.ended_by = 0, entered_at, entered_by
    transfer.shortfall_reason = reason.strip()[:200]
    transfer.save()
    said = Said(at=entered_at, entered_at=entered_at, by=entered_by)
    for movement in transfer.stock_movements.filter(quantity__lt=0).order_by("pk"):
        if movement.kind == MovementKind.SENT:
            put_pieces(
                place=transfer.from_place,
                part=transfer.part,
                quantity=-movement.quantity,
                lot=movement.lot_id,
                entry=_leg(MovementKind.ARRIVED, transfer, said, reason),
            )
    shelves_changed()
    return transfer


def set_aside(
    *,
    place: StockPlace,
    part: Part,
    quantity: int,
    said: Said,
    reason: str,
    lot: StockLot | None = None,
) -> StockTransfer:
    """Put pieces in the depot's corner for what may not be fitted; it says why."""
    if not reason.strip():
        raise StockRefusedError(_("Say why: the reason is empty."), field="reason")
    return send_pieces(
        from_place=place,
        to_place=place_of_depot(place.depot, PlaceKind.SET_ASIDE),
        part=part,
        quantity=quantity,
        said=said,
        note=reason,
        lot=lot,
    )


def _is_short(transfer: StockTransfer) -> bool:
    return transfer.arrived != transfer.quantity


def _check_departure(from_place: StockPlace, to_place: StockPlace, said: Said) -> None:
    if from_place.pk == to_place.pk:
        raise StockRefusedError(
            _("Pieces go to another place than the one they are at."), field="to_place"
        )
    if said.at > said.entered_at:
        raise StockRefusedError(
            _("A transfer is not dated ahead: %(moment)s is in the future.")
            % {"moment": in_words(said.at)},
            field="moved_at",
        )


def _check_arrival(transfer: StockTransfer, arrived: int, moment: datetime, reason: str) -> None:
    if not transfer.is_on_the_way:
        raise StockRefusedError(
            _("This was received before: %(arrived)d arrived.") % {"arrived": transfer.arrived}
        )
    if not 0 <= arrived <= transfer.quantity:
        raise StockRefusedError(
            _("At most what left arrives: %(sent)d were sent, %(arrived)d were entered.")
            % {"sent": transfer.quantity, "arrived": arrived}
        )
    if arrived < transfer.quantity and not reason.strip():
        raise StockRefusedError(
            _("%(missing)d are missing: say why.") % {"missing": transfer.quantity - arrived},
            field="shortfall_reason",
        )
    if moment < transfer.sent_at:
        raise StockRefusedError(
            _("What was sent at %(sent)s does not arrive before that.")
            % {"sent": in_words(transfer.sent_at)},
            field="moved_at",
        )


def _leg(kind: str, transfer: StockTransfer, said: Said, reason: str) -> Entry:
    return Entry(
        kind=kind,
        moved_at=said.at,
        entered_at=said.entered_at,
        entered_by=said.by,
        reason=reason,
        transfer=transfer,
    )
