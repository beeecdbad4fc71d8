"""Claims on suppliers: warranty, old units for their deposit, wrong or damaged deliveries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, Fitment, Part, User
from inspections.models import (
    CLAIM_STEPS,
    ClaimState,
    MovementKind,
    OrderReceipt,
    PartReturn,
    PartReturnStep,
    PlaceKind,
    Supplier,
)
from inspections.services.issuing import Said
from inspections.services.ledger import Entry, place_of_depot, put_pieces, take_pieces


class ClaimRefusedError(ValueError):
    """The claim cannot be made or go on as asked; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Claimed:
    """What is claimed, and what speaks for it."""

    kind: str
    part: Part
    supplier: Supplier
    what_is_wrong: str
    quantity: int = 1
    is_from_stock: bool = False
    fitment: Fitment | None = None
    receipt: OrderReceipt | None = None
    serial: str = ""


@transaction.atomic
def open_claim(
    *, depot: Depot, claimed: Claimed, entered_at: datetime, entered_by: User | None = None
) -> PartReturn:
    """Begin a claim; pieces of the stock lie among those set aside already."""
    if not claimed.what_is_wrong.strip():
        raise ClaimRefusedError(_("Say what is wrong."), field="what_is_wrong")
    if claimed.quantity < 1:
        raise ClaimRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered.")
            % {"quantity": claimed.quantity},
            field="quantity",
        )
    return PartReturn.objects.create(
        depot=depot, entered_at=entered_at, entered_by=entered_by, **vars(claimed)
    )


@transaction.atomic
def step_claim(
    *,
    claim: PartReturn,
    kind: str,
    said: Said,
    note: str = "",
    credit: Decimal | None = None,
    currency: str = "",
) -> PartReturn:
    """Take the next step of a claim; pieces that are sent back or replaced move in the ledger."""
    claim = PartReturn.objects.select_for_update().get(pk=claim.pk)
    _check_step(claim, kind, note, credit)
    PartReturnStep.objects.create(
        claim=claim,
        kind=kind,
        taken_at=said.at,
        entered_at=said.entered_at,
        entered_by=said.by,
        credit=credit if kind == ClaimState.CREDITED else None,
        currency=currency if kind == ClaimState.CREDITED else "",
        note=note.strip()[:500],
    )
    if kind == ClaimState.SENT_BACK and claim.is_from_stock:
        take_pieces(
            place=place_of_depot(claim.depot, PlaceKind.SET_ASIDE),
            part=claim.part,
            quantity=claim.quantity,
            entry=_entry(MovementKind.SENT_BACK, claim, said),
        )
    if kind == ClaimState.REPLACED:
        put_pieces(
            place=place_of_depot(claim.depot),
            part=claim.part,
            quantity=claim.quantity,
            entry=_entry(MovementKind.RECEIPT, claim, said),
        )
    claim.state = kind
    claim.save(update_fields=("state",))
    return claim


def next_steps(claim: PartReturn) -> tuple[ClaimState, ...]:
    """What a claim may become next."""
    return CLAIM_STEPS.get(ClaimState(claim.state), ())


def _check_step(claim: PartReturn, kind: str, note: str, credit: Decimal | None) -> None:
    if kind not in next_steps(claim):
        raise ClaimRefusedError(
            _("A claim that is “%(state)s” does not become “%(next)s”.")
            % {
                "state": claim.get_state_display(),
                "next": dict(ClaimState.choices).get(ClaimState(kind), kind)
                if kind in ClaimState.values
                else kind,
            },
            field="kind",
        )
    if kind in (ClaimState.REFUSED, ClaimState.DROPPED) and not note.strip():
        raise ClaimRefusedError(_("Say why: the note is empty."), field="note")
    if kind == ClaimState.CREDITED and (credit is None or credit < 0):
        raise ClaimRefusedError(_("A credit is an amount of 0 or more."), field="credit")


def _entry(kind: str, claim: PartReturn, said: Said) -> Entry:
    return Entry(
        kind=kind,
        moved_at=said.at,
        entered_at=said.entered_at,
        entered_by=said.by,
        reason=_("claim: %(what)s") % {"what": claim.what_is_wrong},
        part_return=claim,
    )
