"""What every change of an order obeys: who holds it, where it stands, and what stays on record."""

from __future__ import annotations

from datetime import date, datetime

from django.utils.translation import gettext as _

from fleetdoors.models import User
from inspections.models import OrderLine, OrderState, OrderStep, PurchaseOrder


class OrderRefusedError(ValueError):
    """The order cannot be changed as asked; `field` names what to look at."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


def held_order(order: PurchaseOrder) -> PurchaseOrder:
    """The order as it stands now, kept from others until the transaction ends."""
    PurchaseOrder.objects.select_for_update().get(pk=order.pk)
    return PurchaseOrder.objects.select_related("supplier", "depot").get(pk=order.pk)


def settle_state(order: PurchaseOrder, moment: datetime, reason: str = "") -> None:
    """Say where an order that was placed stands, after what its lines have received."""
    lines = list(order.lines.all())
    received = sum(line.received for line in lines)
    if any(line.outstanding for line in lines):
        order.state = OrderState.PART_HERE if received else OrderState.PLACED
        order.ended_at, order.called_off_reason = None, ""
    elif received:
        order.state, order.ended_at = OrderState.ALL_HERE, moment
    else:
        order.state, order.ended_at = OrderState.CALLED_OFF, moment
        order.called_off_reason = reason.strip()[:200]
    order.save(update_fields=("state", "ended_at", "called_off_reason"))


def add_step(
    order: PurchaseOrder,
    kind: str,
    entered_at: datetime,
    entered_by: User | None,
    *,
    line: OrderLine | None = None,
    day: date | None = None,
    pieces: int = 0,
    note: str = "",
) -> OrderStep:
    """Keep what happened to an order or to one of its lines."""
    return OrderStep.objects.create(
        order=order,
        line=line,
        kind=kind,
        day=day,
        pieces=pieces,
        note=note.strip()[:200],
        entered_at=entered_at,
        entered_by=entered_by,
    )


def check_draft(order: PurchaseOrder) -> None:
    """Raise OrderRefusedError unless the order is still being written."""
    if not order.is_draft:
        raise OrderRefusedError(
            _("Only an order that is being written is changed: this one is “%(state)s”.")
            % {"state": order.get_state_display()}
        )


def check_expected(order: PurchaseOrder) -> None:
    """Raise OrderRefusedError unless pieces of the order are still to come."""
    if not order.is_expected:
        raise OrderRefusedError(
            _("Only an order with pieces still to come is changed so: this one is “%(state)s”.")
            % {"state": order.get_state_display()}
        )


def check_reason(reason: str) -> None:
    """Raise OrderRefusedError where nothing says why."""
    if not reason.strip():
        raise OrderRefusedError(_("Say why: the reason is empty."), field="reason")
