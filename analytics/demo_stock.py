"""Suppliers, orders, deliveries and a van of the demo: all of it invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import (
    Depot,
    DoorModel,
    FusePosition,
    MaintenanceTask,
    Part,
    PartAlternate,
    PartKit,
    PartKitLine,
    TaskKit,
)
from inspections.models import (
    ClaimKind,
    ClaimState,
    OrderLine,
    PlaceKind,
    PurchaseOrder,
    StockPlace,
    Supplier,
    SupplierPrice,
)
from inspections.services.issuing import Said
from inspections.services.ledger import place_of_depot
from inspections.services.order_changes import add_charge, call_off, name_another_day
from inspections.services.ordering import Wanted, place_order, write_order
from inspections.services.part_claims import Claimed, open_claim, step_claim
from inspections.services.receiving import Delivered, receive_line
from inspections.services.transfers import send_pieces

# Invented firms: what each sells, by the beginning of the part number.
SUPPLIERS = (
    ("TANSY", "Tansy & Brook Electric", "USD", ("FD-CONV", "FD-BRD", "FD-FUSE", "FD-CONN")),
    ("OXLIP", "Oxlip Cable Works", "USD", ("FD-COIL", "FD-LCAB")),
    ("BURDOCK", "Burdock Spring and Shaft", "USD", ("FD-SPR", "FD-ROLL", "FD-TRK", "FD-SEAL")),
    ("SORREL", "Sorrel Drives", "EUR", ("FD-MOT", "FD-SENS", "FD-SW", "FD-RBAT", "FD-LAMP")),
)
EURO = Decimal("0.92")


@dataclass(frozen=True)
class _Past:
    """An order of the past: days ago, and days until each delivery with its share of the pieces."""

    supplier: str
    depot: int
    days_ago: int
    parts: dict[str, int]
    deliveries: Sequence[tuple[float, float]] = field(default=())
    freight: str = ""


PAST = (
    _Past("OXLIP", 0, 210, {"FD-COIL-14-65": 6, "FD-LCAB-P": 8}, ((19, 1),), "64.00"),
    _Past("OXLIP", 1, 182, {"FD-COIL-14-65": 4, "FD-COIL-12-80": 3}, ((23, 0.5), (31, 0.5))),
    _Past("OXLIP", 2, 150, {"FD-COIL-14-65": 4, "FD-COIL-14-50": 2}, ((17, 1),), "48.50"),
    _Past("OXLIP", 0, 118, {"FD-COIL-14-65": 5}, ((22, 0.6), (26, 0.4))),
    _Past("OXLIP", 1, 90, {"FD-COIL-14-65": 4, "FD-LCAB-P": 6}, ((20, 1),)),
    _Past("OXLIP", 0, 62, {"FD-COIL-14-65": 4}, ((28, 1),), "52.00"),
    _Past("TANSY", 0, 168, {"FD-CONV-12-32": 4, "FD-BRD-5D": 2}, ((33, 1),), "38.00"),
    _Past("TANSY", 2, 96, {"FD-CONV-12-32": 3, "FD-FUSE-20": 20}, ((5, 0.4), (27, 0.6))),
    _Past("BURDOCK", 1, 75, {"FD-SPR-25-L": 4, "FD-SPR-25-R": 4, "FD-SEAL-96": 6}, ((15, 1),)),
    _Past("SORREL", 0, 54, {"FD-MOT-L": 2, "FD-SENS-25": 6}, ((12, 0.5), (29, 0.5)), "71.20"),
)


@transaction.atomic
def stock_the_demo(*, now: datetime) -> None:
    """Keep the invented suppliers, orders old and open, a van, a kit, a transfer and a claim."""
    parts = {part.part_number: part for part in Part.objects.order_by("part_number")}
    depots = list(Depot.objects.order_by("code"))
    if not depots or "FD-COIL-14-65" not in parts:
        return
    suppliers = {row[0]: _supplier(*row, parts=parts, now=now) for row in SUPPLIERS}
    for past in PAST:
        _carry_out(past, suppliers, depots[past.depot % len(depots)], parts, now)
    _open_orders(suppliers, depots, parts, now)
    _van_and_transfer(depots, parts, now)
    _kit_and_alternate(parts)
    _kits_of_tasks(parts)
    _fuses_called_for()
    _claims(suppliers, depots[0], parts, now)


def _supplier(
    code: str,
    name: str,
    currency: str,
    sells: tuple[str, ...],
    *,
    parts: dict[str, Part],
    now: datetime,
) -> Supplier:
    supplier = Supplier.objects.create(
        code=code, name=name, currency=currency, note=_("Invented for the demo.")
    )
    since = (now - timedelta(days=365)).date()
    for number, part in parts.items():
        if not number.startswith(sells) or part.unit_cost is None:
            continue
        price = part.unit_cost * (EURO if currency == "EUR" else 1)
        SupplierPrice.objects.create(
            supplier=supplier,
            part=part,
            supplier_part_number=f"{code[:2]}-{number[3:]}",
            unit_price=price,
            currency=currency,
            pack_size=part.pack_size,
            minimum_quantity=part.pack_size,
            quoted_lead_days=part.lead_time_days,
            valid_from=since,
        )
    return supplier


def _carry_out(
    past: _Past,
    suppliers: dict[str, Supplier],
    depot: Depot,
    parts: dict[str, Part],
    now: datetime,
) -> PurchaseOrder:
    """Write, place and receive an order as it was done then."""
    placed_at = now - timedelta(days=past.days_ago)
    order = write_order(
        supplier=suppliers[past.supplier],
        depot=depot,
        wanted=[Wanted(parts[number], pieces) for number, pieces in past.parts.items()],
        entered_at=placed_at,
        note=_("Invented for the demo."),
    )
    order = place_order(order=order, placed_at=placed_at, entered_at=placed_at)
    for number, (days, share) in enumerate(past.deliveries):
        at = placed_at + timedelta(days=days)
        is_last = number == len(past.deliveries) - 1
        for line in OrderLine.objects.filter(order=order).order_by("pk"):
            pieces = line.outstanding if is_last else max(round(line.quantity * share), 1)
            if pieces and pieces <= line.outstanding:
                _receive(line, pieces, at)
    if past.freight:
        add_charge(
            order=order, kind="freight", amount=Decimal(past.freight), note="", entered_at=placed_at
        )
    return order


def _receive(line: OrderLine, pieces: int, at: datetime) -> None:
    life = line.part.shelf_life_days
    use_by_on = (at + timedelta(days=life)).date() if life else None
    receive_line(
        line=line,
        delivered=Delivered(pieces, use_by_on=use_by_on, delivery_note=f"{line.order.number}-1"),
        said=Said(at=at, entered_at=at),
    )


def _open_orders(
    suppliers: dict[str, Supplier], depots: list[Depot], parts: dict[str, Part], now: datetime
) -> None:
    """One late, one partly here with a line called off, and one that is being written."""
    late = _Past("TANSY", 0, 45, {"FD-BRD-6D": 2, "FD-CONV-24-32": 2})
    order = _carry_out(late, suppliers, depots[0], parts, now)
    for line in order.lines.order_by("pk"):
        name_another_day(
            line=line,
            expected_on=(now - timedelta(days=2)).date(),
            note=_("waits for a component, says the supplier"),
            entered_at=now - timedelta(days=12),
        )
    partly = _Past("BURDOCK", 1, 16, {"FD-SPR-25-L": 4, "FD-SPR-25-R": 4, "FD-TRK-S": 3})
    order = _carry_out(partly, suppliers, depots[1 % len(depots)], parts, now)
    lines = list(order.lines.order_by("pk"))
    _receive(lines[0], 4, now - timedelta(days=3))
    call_off(
        line=lines[2],
        pieces=1,
        reason=_("one was found at another depot"),
        entered_at=now - timedelta(days=2),
    )
    write_order(
        supplier=suppliers["OXLIP"],
        depot=depots[0],
        wanted=[Wanted(parts["FD-COIL-14-65"], 4, why=_("runs out within the lead time"))],
        entered_at=now - timedelta(hours=3),
        note=_("Invented for the demo."),
    )


def _van_and_transfer(depots: list[Depot], parts: dict[str, Part], now: datetime) -> None:
    shelf = place_of_depot(depots[0])
    van = StockPlace.objects.create(depot=depots[0], kind=PlaceKind.VAN, name=_("Van 1"))
    fuse, cable = parts["FD-FUSE-20"], parts["FD-COIL-14-65"]
    at = now - timedelta(days=1)
    said = Said(at=at, entered_at=at)
    if _has(shelf, fuse, 2):
        send_pieces(from_place=shelf, to_place=van, part=fuse, quantity=2, said=said)
    if len(depots) > 1 and _has(shelf, cable, 1):
        send_pieces(
            from_place=shelf,
            to_place=place_of_depot(depots[1]),
            part=cable,
            quantity=1,
            said=said,
            note=_("with the evening run"),
        )


def _has(place: StockPlace, part: Part, pieces: int) -> bool:
    return place.balances.filter(part=part, on_hand__gte=pieces).exists()


def _kit_and_alternate(parts: dict[str, Part]) -> None:
    kit = PartKit.objects.create(code="SPRINGS", name=_("Springs and lift cables, one door"))
    for number in ("FD-SPR-25-L", "FD-SPR-25-R", "FD-LCAB-P"):
        PartKitLine.objects.create(kit=kit, part=parts[number], quantity=1)
    PartAlternate.objects.create(
        part=parts["FD-COIL-14-50"],
        alternate=parts["FD-COIL-14-65"],
        note=_("longer: tie the slack up, it must not touch the track"),
    )


def _kits_of_tasks(parts: dict[str, Part]) -> None:
    """Two tasks that use parts each time: the remote's battery, and springs with their cables."""
    kits = {"RBT": ("FD-RBAT-3",), "REN": ("FD-SPR-25-L", "FD-SPR-25-R", "FD-LCAB-P")}
    for task in MaintenanceTask.objects.filter(code__in=kits).order_by("code"):
        for number in kits[task.code]:
            TaskKit.objects.create(task=task, part=parts[number], quantity=1)


def _fuses_called_for() -> None:
    """Every door model of the demo calls for the fuse that the demo's stores keep."""
    for door_model in DoorModel.objects.order_by("code"):
        FusePosition.objects.create(door_model=door_model, kind="blade fuse", amps=20, volts=58)


def _claims(
    suppliers: dict[str, Supplier], depot: Depot, parts: dict[str, Part], now: datetime
) -> None:
    at = now - timedelta(days=20)
    claim = open_claim(
        depot=depot,
        claimed=Claimed(
            kind=ClaimKind.WARRANTY,
            part=parts["FD-CONV-12-32"],
            supplier=suppliers["TANSY"],
            what_is_wrong=_("No output after five weeks. Invented for the demo."),
            serial="TB-40213",
        ),
        entered_at=at,
    )
    step_claim(claim=claim, kind=ClaimState.SENT_BACK, said=Said(at=at, entered_at=at))
    open_claim(
        depot=depot,
        claimed=Claimed(
            kind=ClaimKind.CORE,
            part=parts["FD-MOT-L"],
            supplier=suppliers["SORREL"],
            what_is_wrong=_("Old motor for its deposit. Invented for the demo."),
        ),
        entered_at=now - timedelta(days=6),
    )
