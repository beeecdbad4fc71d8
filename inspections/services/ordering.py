"""Orders are written and placed with the supplier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, Part, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import (
    OrderLine,
    OrderState,
    OrderStepKind,
    PurchaseOrder,
    Supplier,
    SupplierPrice,
)
from inspections.services.order_state import OrderRefusedError, add_step, check_draft, held_order


@dataclass(frozen=True)
class Wanted:
    """Pieces of a part to order; without a price the supplier's of the day is taken."""

    part: Part
    quantity: int
    unit_price: Decimal | None = None
    why: str = ""


@transaction.atomic
def write_order(
    *,
    supplier: Supplier,
    depot: Depot,
    wanted: Sequence[Wanted],
    entered_at: datetime,
    entered_by: User | None = None,
    note: str = "",
) -> PurchaseOrder:
    """Begin an order; quantities are raised to the supplier's packs and minimum."""
    order = PurchaseOrder.objects.create(
        number=_next_number(entered_at.astimezone(depot.zone).year),
        supplier=supplier,
        depot=depot,
        currency=supplier.currency,
        note=note.strip()[:500],
        entered_at=entered_at,
        entered_by=entered_by,
    )
    for each in wanted:
        put_on_order(order=order, wanted=each, today=entered_at.astimezone(depot.zone).date())
    return order


@transaction.atomic
def put_on_order(*, order: PurchaseOrder, wanted: Wanted, today: date) -> OrderLine:
    """Add pieces to an order that is being written; a part on it already takes the new figure."""
    order = held_order(order)
    check_draft(order)
    if wanted.quantity < 1:
        raise OrderRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered.") % {"quantity": wanted.quantity},
            field="quantity",
        )
    price = price_of(order.supplier, wanted.part, today)
    if price and price.currency != order.currency:
        raise OrderRefusedError(
            _("This order is in %(order)s and %(part)s is offered in %(price)s: order it alone.")
            % {"order": order.currency, "part": wanted.part, "price": price.currency},
            field="part",
        )
    quantity = price.fitting_quantity(wanted.quantity) if price else wanted.quantity
    unit_price = wanted.unit_price
    if unit_price is None and price:
        unit_price = price.unit_price
    line, _made = OrderLine.objects.update_or_create(
        order=order,
        part=wanted.part,
        defaults={
            "quantity": quantity,
            "unit_price": unit_price,
            "quoted_lead_days": _quoted(price, wanted.part),
            "supplier_part_number": price.supplier_part_number if price else "",
            "why": wanted.why.strip()[:500],
        },
    )
    return line


@transaction.atomic
def strike_line(*, line: OrderLine) -> None:
    """Take a line off an order that is being written: nobody has seen it yet."""
    order = held_order(line.order)
    check_draft(order)
    OrderLine.objects.filter(pk=line.pk).delete()


@transaction.atomic
def place_order(
    *,
    order: PurchaseOrder,
    placed_at: datetime,
    entered_at: datetime,
    placed_by: User | None = None,
    reference: str = "",
) -> PurchaseOrder:
    """The order is with the supplier; each line is expected after its lead time."""
    order = held_order(order)
    if order.is_expected:
        return order
    check_draft(order)
    lines = list(order.lines.order_by("pk"))
    if not lines:
        raise OrderRefusedError(_("An order without a line is not placed: add a part first."))
    if placed_at > entered_at:
        raise OrderRefusedError(_("An order is not placed in the future."), field="placed_at")
    placed_on = placed_at.astimezone(order.depot.zone).date()
    for line in lines:
        if line.expected_on is None and line.quoted_lead_days is not None:
            line.expected_on = placed_on + timedelta(days=round(line.quoted_lead_days))
            line.save(update_fields=("expected_on",))
        add_step(
            order, OrderStepKind.PLACED, entered_at, placed_by, line=line, day=line.expected_on
        )
    order.state, order.placed_at, order.placed_by = OrderState.PLACED, placed_at, placed_by
    order.supplier_reference = reference.strip()[:80]
    order.save()
    shelves_changed()
    return order


def price_of(supplier: Supplier, part: Part, day: date) -> SupplierPrice | None:
    """The supplier's price of the part on the day, the latest where several hold; queries once."""
    prices = SupplierPrice.objects.on_day(day).filter(supplier=supplier, part=part)
    return prices.order_by("-valid_from").first()


def _quoted(price: SupplierPrice | None, part: Part) -> float | None:
    if price and price.quoted_lead_days is not None:
        return price.quoted_lead_days
    return part.lead_time_days


def _next_number(year: int) -> str:
    """The first free number of the year; the caller's transaction keeps the order of arrival."""
    Supplier.objects.select_for_update().order_by("pk").first()
    prefix = f"{year}-"
    numbers = PurchaseOrder.objects.filter(number__startswith=prefix).values_list(
        "number", flat=True
    )
    taken = [int(number.removeprefix(prefix)) for number in numbers if _is_counted(number, prefix)]
    return f"{prefix}{max(taken, default=0) + 1:04}"


def _is_counted(number: str, prefix: str) -> bool:
    rest = number.removeprefix(prefix)
    return rest.isascii() and rest.isdecimal()
