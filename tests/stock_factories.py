"""Builders of rows about stock: places, suppliers, orders, deliveries, transfers, reservations."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from fleetdoors.models import Depot, Part, PartAlternate, PartKit, PartKitLine, User
from inspections.models import (
    ClaimKind,
    ClaimState,
    OrderCharge,
    OrderLine,
    OrderReceipt,
    OrderStep,
    PartReservation,
    PartReturn,
    PartReturnStep,
    PlaceKind,
    PurchaseOrder,
    StockBalance,
    StockLot,
    StockMovement,
    StockPlace,
    StockTransfer,
    Supplier,
    SupplierPrice,
)
from inspections.services.issuing import Said
from inspections.services.ledger import place_of_depot
from inspections.services.ordering import Wanted, place_order, write_order
from inspections.services.receiving import Delivered, receive_line, receive_without_order
from tests.factories import NOW, make_depot, make_door, make_part
from tests.truck_factories import make_visit

DAY = timedelta(days=1)
_number = count(1)


def said(at: datetime = NOW, *, by: User | None = None) -> Said:
    return Said(at=at, entered_at=max(at, NOW), by=by)


def shelf_of(depot: Depot) -> StockPlace:
    return place_of_depot(depot)


def make_van(*, depot: Depot, name: str = "", keeper: User | None = None) -> StockPlace:
    return StockPlace.objects.create(
        depot=depot, kind=PlaceKind.VAN, name=name or f"Van {next(_number)}", keeper=keeper
    )


def make_lot(*, part: Part, number: str = "", use_by_on: date | None = None) -> StockLot:
    return StockLot.objects.create(
        part=part, number=number or f"L{next(_number)}", use_by_on=use_by_on
    )


def stocked(
    *,
    depot: Depot | None = None,
    part: Part | None = None,
    pieces: int = 10,
    at: datetime = NOW - 30 * DAY,
    place: StockPlace | None = None,
    lot: str = "",
    use_by_on: date | None = None,
) -> StockPlace:
    """A place with pieces that were delivered without an order."""
    place = place or shelf_of(depot or make_depot())
    receive_without_order(
        part=part or make_part(),
        place=place,
        delivered=Delivered(pieces, lot=lot, use_by_on=use_by_on),
        said=Said(at=at, entered_at=at),
    )
    return place


def make_supplier(*, code: str = "", currency: str = "USD") -> Supplier:
    code = code or f"S{next(_number)}"
    return Supplier.objects.create(code=code, name=f"Supplier {code}", currency=currency)


def make_price(
    *,
    supplier: Supplier | None = None,
    part: Part | None = None,
    unit_price: str = "10.0000",
    currency: str = "USD",
    pack_size: int = 1,
    minimum_quantity: int = 1,
    quoted_lead_days: float | None = 14,
    valid_from: date = date(2026, 1, 1),
    valid_until: date | None = None,
) -> SupplierPrice:
    return SupplierPrice.objects.create(
        supplier=supplier or make_supplier(currency=currency),
        part=part or make_part(),
        unit_price=Decimal(unit_price),
        currency=currency,
        pack_size=pack_size,
        minimum_quantity=minimum_quantity,
        quoted_lead_days=quoted_lead_days,
        valid_from=valid_from,
        valid_until=valid_until,
    )


def make_order(
    *,
    supplier: Supplier | None = None,
    depot: Depot | None = None,
    wanted: dict[Part, int] | None = None,
    at: datetime = NOW - 20 * DAY,
) -> PurchaseOrder:
    """An order that is being written."""
    lines = wanted if wanted is not None else {make_part(): 5}
    return write_order(
        supplier=supplier or make_supplier(),
        depot=depot or make_depot(),
        wanted=[Wanted(part, pieces) for part, pieces in lines.items()],
        entered_at=at,
    )


def make_placed_order(*, at: datetime = NOW - 20 * DAY, **facts: Any) -> PurchaseOrder:
    """An order that is with the supplier."""
    return place_order(order=make_order(at=at, **facts), placed_at=at, entered_at=at)


def make_line(*, order: PurchaseOrder | None = None) -> OrderLine:
    return (order or make_placed_order()).lines.get()


def make_receipt(*, line: OrderLine | None = None, pieces: int = 1) -> OrderReceipt:
    return receive_line(line=line or make_line(), delivered=Delivered(pieces), said=said())


def make_step(*, kind: str = "placed", **facts: Any) -> OrderStep:
    line = make_line()
    return OrderStep.objects.create(order=line.order, line=line, kind=kind, entered_at=NOW, **facts)


def make_charge(*, amount: str = "20.00") -> OrderCharge:
    return OrderCharge.objects.create(
        order=make_order(), kind="freight", amount=Decimal(amount), entered_at=NOW
    )


def make_movement() -> StockMovement:
    place = stocked()
    return StockMovement.objects.get(place=place)


def make_balance() -> StockBalance:
    return StockBalance.objects.get(place=stocked())


def make_transfer(**facts: Any) -> StockTransfer:
    """Pieces on their way, without the movement of their leaving."""
    return StockTransfer.objects.create(
        **{
            "part": make_part(),
            "from_place": shelf_of(make_depot()),
            "to_place": shelf_of(make_depot()),
            "quantity": 3,
            "sent_at": NOW,
            **facts,
        }
    )


def make_reservation(**facts: Any) -> PartReservation:
    door = make_door()
    visit = make_visit(door=door)
    return PartReservation.objects.create(
        **{
            "depot": visit.depot,
            "part": make_part(),
            "quantity": 1,
            "visit": visit,
            "reserved_at": NOW,
            **facts,
        }
    )


def make_claim(**facts: Any) -> PartReturn:
    return PartReturn.objects.create(
        **{
            "kind": ClaimKind.WARRANTY,
            "depot": make_depot(),
            "part": make_part(),
            "supplier": make_supplier(),
            "what_is_wrong": "Dead after a week",
            "entered_at": NOW,
            **facts,
        }
    )


def make_claim_step(**facts: Any) -> PartReturnStep:
    return PartReturnStep.objects.create(
        **{
            "claim": make_claim(),
            "kind": ClaimState.SENT_BACK,
            "taken_at": NOW,
            "entered_at": NOW,
            **facts,
        }
    )


def make_alternate() -> PartAlternate:
    return PartAlternate.objects.create(part=make_part(), alternate=make_part())


def make_kit_line() -> PartKitLine:
    kit = PartKit.objects.create(code=f"K{next(_number)}", name="Spring change")
    return PartKitLine.objects.create(kit=kit, part=make_part(), quantity=2)


def make_one_of_each_in_stores() -> None:
    """A row of everything that stores, orders and claims leave behind."""
    receipt = make_receipt()
    make_lot(part=receipt.part)
    make_van(depot=receipt.place.depot)
    make_price(part=receipt.part)
    make_charge()
    make_transfer()
    make_reservation()
    make_claim_step()
    make_alternate()
    make_kit_line()
