"""Invoices for work done outside: entered once, taken back by a row that reverses them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Mounting, Truck, User
from inspections.models import OutsideInvoice
from inspections.services.corrections import CorrectionRefusedError, sign, supersede
from inspections.services.labour import LabourRefusedError, currency_of

MOST_AMOUNT = Decimal(1_000_000)


class InvoiceRefusedError(ValueError):
    """The invoice cannot be taken; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Invoiced:
    """What an invoice says; `door`: on which the work was done."""

    supplier: str
    number: str
    invoiced_on: date
    amount: Decimal
    currency: str
    door: DoorUnit
    what_for: str


@transaction.atomic
def enter_invoice(
    *, said: Invoiced, today: date, entered_at: datetime, entered_by: User
) -> OutsideInvoice:
    """Keep an invoice with the truck that carried the door; the same one twice is refused."""
    DoorUnit.objects.select_for_update().get(pk=said.door.pk)
    facts = vars(said) | {
        "supplier": " ".join(said.supplier.split()),
        "number": " ".join(said.number.split()),
        "what_for": said.what_for.strip(),
        "currency": _currency(said.currency),
    }
    _check(said, facts, today)
    invoice = OutsideInvoice(**facts, truck=truck_of(said.door, said.invoiced_on))
    sign(invoice, corrects=None, reason="", by=entered_by, at=entered_at)
    invoice.save()
    return invoice


@transaction.atomic
def reverse_invoice(
    *, invoice: OutsideInvoice, reason: str, entered_at: datetime, entered_by: User
) -> OutsideInvoice:
    """Take an invoice back: a row of the same with the amount below zero, and why."""
    if invoice.is_reversal:
        raise InvoiceRefusedError(_("This row takes an invoice back; it is not taken back itself."))
    try:
        supersede(invoice, reason=reason, entered_at=entered_at)
    except CorrectionRefusedError as refused:
        raise InvoiceRefusedError(str(refused), field="reason") from refused
    reversal = OutsideInvoice(
        supplier=invoice.supplier,
        number=invoice.number,
        invoiced_on=invoice.invoiced_on,
        amount=-invoice.amount,
        currency=invoice.currency,
        truck_id=invoice.truck_id,
        door_id=invoice.door_id,
        what_for=invoice.what_for,
        is_reversal=True,
    )
    sign(reversal, corrects=invoice, reason=reason, by=entered_by, at=entered_at)
    reversal.save()
    return reversal


def truck_of(door: DoorUnit, day: date) -> Truck | None:
    """The truck that carried the door on the day, else the one that carries it now; queries."""
    stays = Mounting.objects.filter(door=door).select_related("truck").order_by("-mounted_on")
    for stay in stays:
        if stay.mounted_on <= day and (stay.removed_on is None or day <= stay.removed_on):
            return stay.truck
    return next((stay.truck for stay in stays if stay.removed_on is None), None)


def _currency(typed: str) -> str:
    try:
        return currency_of(typed)
    except LabourRefusedError as refused:
        raise InvoiceRefusedError(str(refused), field=refused.field) from refused


def _check(said: Invoiced, facts: dict[str, object], today: date) -> None:
    for name, word in (
        ("supplier", _("An invoice names who wrote it: the supplier is empty.")),
        ("number", _("An invoice has a number: it is empty.")),
        ("what_for", _("Say what was done: it is empty.")),
    ):
        if not facts[name]:
            raise InvoiceRefusedError(word, field=name)
    if not 0 < said.amount <= MOST_AMOUNT:
        raise InvoiceRefusedError(
            _("An amount is above 0 and at most %(most)s: %(amount)s was entered.")
            % {"most": MOST_AMOUNT, "amount": said.amount},
            field="amount",
        )
    if said.invoiced_on > today:
        raise InvoiceRefusedError(
            _("An invoice is not of a day to come: %(day)s.") % {"day": said.invoiced_on},
            field="invoiced_on",
        )
    there = OutsideInvoice.objects.in_force().filter(
        is_reversal=False, supplier__iexact=str(facts["supplier"]), number=facts["number"]
    )
    if there.exists():
        raise InvoiceRefusedError(
            _("Invoice %(number)s of %(supplier)s is on record already.") % facts, field="number"
        )
