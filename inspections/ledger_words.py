"""A movement of stock in words: what it was, what it rests on, and whether it may be taken back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.templatetags.units import moment, number
from fleetdoors.views.addresses import door_address
from inspections.kept_words import as_read
from inspections.models import MovementKind, StockMovement

ON_THEIR_OWN = (MovementKind.ISSUE, MovementKind.RETURN, MovementKind.WRITE_OFF)


@dataclass(frozen=True)
class MovementLine:
    """A movement as its page shows it; `url` leads to what it rests on."""

    moved_at: datetime
    place: str
    what: str
    note: str
    url: str
    came: str
    went: str
    balance: str
    is_beyond_record: bool
    undo_url: str


def difference_words(difference: int) -> str:
    """By how many pieces a count differs from the record."""
    if difference > 0:
        told = ngettext(
            "That is %(n)s piece more than on record.",
            "That is %(n)s pieces more than on record.",
            difference,
        )
    else:
        told = ngettext(
            "That is %(n)s piece fewer than on record.",
            "That is %(n)s pieces fewer than on record.",
            -difference,
        )
    return f"{told % {'n': number(abs(difference))}} {_('Count once more, then say why.')}"


def movement_lines(movements: Iterable[StockMovement], *, may_move: bool) -> list[MovementLine]:
    """The lines of a page; what they name is fetched with the movements."""
    return [_line(movement, may_move=may_move) for movement in movements]


def _line(movement: StockMovement, *, may_move: bool) -> MovementLine:
    pieces = movement.quantity
    can_undo = (
        may_move
        and movement.kind in ON_THEIR_OWN
        and movement.part_used_id is None
        and not hasattr(movement, "reversal")
    )
    return MovementLine(
        moved_at=movement.moved_at,
        place=str(movement.place.name or movement.place.get_kind_display()),
        what=str(movement.get_kind_display()),
        note=_note(movement),
        url=_url(movement),
        came=number(pieces) if pieces > 0 else "",
        went=number(-pieces) if pieces < 0 else ("0" if pieces == 0 else ""),
        balance=number(movement.balance_after),
        is_beyond_record=movement.is_beyond_record,
        undo_url=reverse("movement-undo", args=[movement.pk]) if can_undo else "",
    )


def _note(movement: StockMovement) -> str:
    """What the movement rests on, who says so, and why."""
    words = [_rests_on(movement)]
    if movement.lot:
        words.append(_("lot %(lot)s") % {"lot": movement.lot})
    words.append(as_read(movement.reason))
    if movement.reverses_id:
        words.append(_("takes back what was entered %(moment)s") % {
            "moment": moment(movement.reverses.entered_at) if movement.reverses else ""
        })  # fmt: skip
    if hasattr(movement, "reversal"):
        words.append(_("taken back later"))
    if movement.entered_by:
        words.append(str(movement.entered_by))
    return " · ".join(word for word in words if word)


def _rests_on(movement: StockMovement) -> str:
    if movement.kind == MovementKind.COUNT and movement.stock_count:
        return _("%(counted)s counted %(moment)s") % {
            "counted": number(movement.stock_count.on_hand),
            "moment": moment(movement.stock_count.counted_at),
        }
    if movement.receipt and movement.receipt.line:
        return _("order %(order)s") % {"order": movement.receipt.line.order}
    if movement.receipt:
        return _("without an order")
    if movement.transfer:
        return _("from %(here)s to %(there)s") % {
            "here": movement.transfer.from_place, "there": movement.transfer.to_place,
        }  # fmt: skip
    if movement.door:
        return _("door %(door)s") % {"door": movement.door.serial}
    return ""


def _url(movement: StockMovement) -> str:
    if movement.receipt and movement.receipt.line:
        return reverse("order-detail", args=[movement.receipt.line.order.number])
    if movement.part_return_id:
        return reverse("claim-detail", args=[movement.part_return_id])
    return door_address(movement.door.serial) if movement.door else ""
