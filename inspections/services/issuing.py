"""Pieces handed out, brought back and written off; and what takes such a movement back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Part, PartKit, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import MovementKind, StockMovement, StockPlace
from inspections.moments import in_words
from inspections.services.fuse_check import fuse_objection
from inspections.services.ledger import (
    Entry,
    StockRefusedError,
    hold_depots,
    put_pieces,
    take_pieces,
)


@dataclass(frozen=True)
class Said:
    """Who says it, when it was, and when it is entered."""

    at: datetime
    entered_at: datetime
    by: User | None = None


@transaction.atomic
def issue_pieces(
    *,
    place: StockPlace,
    part: Part,
    quantity: int,
    said: Said,
    door: DoorUnit | None = None,
    reason: str = "",
) -> list[StockMovement]:
    """Hand out pieces for work; what is not there, or is kept for other work, is refused.

    So is a fuse that is not the one that the door calls for.
    """
    _check_moment(said)
    _check_for_work(place)
    objection = fuse_objection(part=part, door=door) if door else ""
    if objection:
        raise StockRefusedError(objection, field="door")
    written = take_pieces(
        place=place,
        part=part,
        quantity=quantity,
        entry=_entry(MovementKind.ISSUE, said, reason, door),
    )
    shelves_changed()
    return written


@transaction.atomic
def issue_kit(
    *, place: StockPlace, kit: PartKit, said: Said, door: DoorUnit | None = None
) -> list[StockMovement]:
    """Hand out every part of a kit, or none of them."""
    hold_depots([place.depot])
    written: list[StockMovement] = []
    for line in kit.lines.select_related("part").order_by("part__part_number"):
        written += issue_pieces(
            place=place,
            part=line.part,
            quantity=line.quantity,
            said=said,
            door=door,
            reason=_("kit %(kit)s") % {"kit": kit},
        )
    return written


@transaction.atomic
def bring_back(
    *, place: StockPlace, part: Part, quantity: int, said: Said, reason: str = ""
) -> list[StockMovement]:
    """Pieces that were taken and not used lie at the place again."""
    _check_moment(said)
    written = put_pieces(
        place=place, part=part, quantity=quantity, entry=_entry(MovementKind.RETURN, said, reason)
    )
    shelves_changed()
    return written


@transaction.atomic
def write_off(
    *,
    place: StockPlace,
    part: Part,
    quantity: int,
    said: Said,
    reason: str,
    lot: int | None = None,
) -> list[StockMovement]:
    """Pieces that are there and are good for nothing leave the stock; it says why."""
    _check_moment(said)
    _check_reason(reason)
    written = take_pieces(
        place=place,
        part=part,
        quantity=quantity,
        entry=_entry(MovementKind.WRITE_OFF, said, reason),
        lot=lot,
    )
    shelves_changed()
    return written


@transaction.atomic
def take_back_movement(*, movement: StockMovement, said: Said, reason: str) -> list[StockMovement]:
    """Undo a movement by its counter movement; counts, deliveries and transfers have their own."""
    _check_reason(reason)
    hold_depots([movement.place.depot])
    _check_can_be_taken_back(movement)
    entry = Entry(
        kind=MovementKind.CORRECTION,
        moved_at=movement.moved_at,
        entered_at=said.entered_at,
        entered_by=said.by,
        reason=reason,
        door=movement.door,
        reverses=movement,
    )
    move = put_pieces if movement.quantity < 0 else take_pieces
    written = move(
        place=movement.place,
        part=movement.part,
        quantity=abs(movement.quantity),
        lot=movement.lot_id,
        entry=entry,
    )
    shelves_changed()
    return written


def can_be_taken_back(movement: StockMovement) -> bool:
    """Whether a counter movement may be written for it on its own."""
    on_its_own = (MovementKind.ISSUE, MovementKind.RETURN, MovementKind.WRITE_OFF)
    return (
        movement.kind in on_its_own
        and movement.part_used_id is None
        and movement.part_return_id is None
        and not StockMovement.objects.filter(reverses=movement).exists()
    )


def _check_can_be_taken_back(movement: StockMovement) -> None:
    if StockMovement.objects.filter(reverses=movement).exists():
        raise StockRefusedError(_("This movement was taken back before."), field="reason")
    if not can_be_taken_back(movement):
        raise StockRefusedError(
            _(
                "Only pieces handed out, brought back or written off are taken back here. A count "
                "is counted again; a delivery, a transfer and a part used have pages of their own."
            ),
            field="reason",
        )


def _check_moment(said: Said) -> None:
    if said.at > said.entered_at:
        raise StockRefusedError(
            _("A movement is not dated ahead: %(moment)s is in the future.")
            % {"moment": in_words(said.at)},
            field="moved_at",
        )


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise StockRefusedError(_("Say why: the reason is empty."), field="reason")


def _check_for_work(place: StockPlace) -> None:
    if not place.is_for_work:
        raise StockRefusedError(
            _("Pieces set aside are not handed out: bring them back to the shelf first."),
            field="place",
        )


def _entry(kind: str, said: Said, reason: str, door: DoorUnit | None = None) -> Entry:
    return Entry(
        kind=kind,
        moved_at=said.at,
        entered_at=said.entered_at,
        entered_by=said.by,
        reason=reason,
        door=door,
    )
