"""Orders that were placed: another day is named, pieces are called off, costs come on top."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import (
    ChargeKind,
    OrderCharge,
    OrderLine,
    OrderState,
    OrderStep,
    OrderStepKind,
    PurchaseOrder,
)
from inspections.services.order_state import (
    OrderRefusedError,
    add_step,
    check_expected,
    check_reason,
    held_order,
    settle_state,
)


@transaction.atomic
def name_another_day(
    *,
    line: OrderLine,
    expected_on: date,
    note: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> OrderLine:
    """The supplier named another day for a line; the days named before stay on record."""
    order = held_order(line.order)
    check_expected(order)
    line = OrderLine.objects.get(pk=line.pk)
    add_step(
        order, OrderStepKind.NEW_DAY, entered_at, entered_by,
        line=line, day=expected_on, note=note,
    )  # fmt: skip
    line.expected_on = expected_on
    line.save(update_fields=("expected_on",))
    shelves_changed()
    return line


@transaction.atomic
def call_off(
    *,
    line: OrderLine,
    pieces: int,
    reason: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> OrderLine:
    """Pieces of a line will not come; the order ends where nothing is left to come."""
    order = held_order(line.order)
    check_expected(order)
    line = OrderLine.objects.get(pk=line.pk)
    check_reason(reason)
    if not 1 <= pieces <= line.outstanding:
        raise OrderRefusedError(
            _("Of %(part)s %(left)d are still to come; %(pieces)d cannot be called off.")
            % {"part": line.part, "left": line.outstanding, "pieces": pieces},
            field="pieces",
        )
    line.called_off += pieces
    line.called_off_reason = reason.strip()[:200]
    line.save(update_fields=("called_off", "called_off_reason"))
    add_step(
        order, OrderStepKind.CALLED_OFF, entered_at, entered_by,
        line=line, pieces=pieces, note=reason,
    )  # fmt: skip
    settle_state(order, entered_at, reason)
    shelves_changed()
    return line


@transaction.atomic
def call_off_order(
    *, order: PurchaseOrder, reason: str, entered_at: datetime, entered_by: User | None = None
) -> PurchaseOrder:
    """Nothing more of an order comes; one that was being written is put away."""
    order = held_order(order)
    check_reason(reason)
    if order.is_draft:
        order.state, order.ended_at = OrderState.CALLED_OFF, entered_at
        order.called_off_reason = reason.strip()[:200]
        order.save()
        return order
    check_expected(order)
    for line in order.lines.order_by("pk"):
        if line.outstanding:
            call_off(
                line=line,
                pieces=line.outstanding,
                reason=reason,
                entered_at=entered_at,
                entered_by=entered_by,
            )
    return PurchaseOrder.objects.get(pk=order.pk)


@transaction.atomic
def remind_supplier(
    *, order: PurchaseOrder, note: str, entered_at: datetime, entered_by: User | None = None
) -> OrderStep:
    """Note that the supplier was asked where the pieces are."""
    order = held_order(order)
    check_expected(order)
    return add_step(order, OrderStepKind.REMINDED, entered_at, entered_by, note=note)


def add_charge(
    *,
    order: PurchaseOrder,
    kind: str,
    amount: Decimal,
    note: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> OrderCharge:
    """A cost beside the parts, in the order's currency; below zero it takes one back."""
    if kind not in ChargeKind.values or not amount:
        raise OrderRefusedError(_("A cost has a kind and an amount."), field="amount")
    if amount < 0:
        check_reason(note)
    return OrderCharge.objects.create(
        order=order,
        kind=kind,
        amount=amount,
        note=note.strip()[:200],
        entered_at=entered_at,
        entered_by=entered_by,
    )
