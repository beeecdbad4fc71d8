"""Orders, what became of them and what was delivered go along in a fleet folder."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from fleetdoors.models import Depot, Part
from inspections.models import (
    OrderCharge,
    OrderLine,
    OrderReceipt,
    OrderState,
    OrderStep,
    PurchaseOrder,
    StockBalance,
    StockMovement,
    Supplier,
    SupplierPrice,
)
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from inspections.services.lead_times import lead_times
from inspections.services.order_changes import (
    add_charge,
    call_off,
    name_another_day,
    remind_supplier,
)
from inspections.services.ordering import place_order
from inspections.services.receiving import Delivered, receive_line, take_back_receipt
from inspections.services.stock_now import stock_of
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_part,
    make_part_used,
    make_stock_count,
    make_truck,
    make_user,
)
from tests.inspections.test_fleet_folder_linked import rewritten
from tests.inspections.test_fleet_folder_round_trip import empty_the_database, goes_round
from tests.stock_factories import DAY, make_order, make_price, make_supplier, said, stocked

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
TABLES = (
    "suppliers",
    "supplier_prices",
    "stock_places",
    "stock_lots",
    "orders",
    "order_lines",
    "order_steps",
    "order_charges",
    "deliveries",
)


def an_order_with_everything() -> PurchaseOrder:
    """Placed, put off, partly here with a damaged piece, partly called off, with its costs."""
    kim, depot = make_user(), make_depot(code="OSL", timezone="Europe/Oslo")
    supplier = make_supplier(code="=S", currency="NOK")
    slider, spring = make_part(part_number="SLD"), make_part(part_number="SPR")
    make_price(
        supplier=supplier, part=slider, unit_price="1.2345", currency="NOK", pack_size=5,
        minimum_quantity=10, valid_until=NOW.date() + timedelta(days=300),
    )  # fmt: skip
    make_stock_count(depot=depot, part=slider, on_hand=3, counted_at=NOW - 40 * DAY)
    order = make_order(
        supplier=supplier, depot=depot, wanted={slider: 20, spring: 4}, at=NOW - 30 * DAY
    )
    facts = {"entered_at": NOW - 29 * DAY}
    place_order(order=order, placed_at=NOW - 29 * DAY, placed_by=kim, reference="-77", **facts)
    first, second = order.lines.order_by("pk")
    name_another_day(
        line=first, expected_on=NOW.date(), note="late boat", entered_by=kim,
        entered_at=NOW - 20 * DAY,
    )  # fmt: skip
    remind_supplier(order=order, note="=asked", entered_at=NOW - 12 * DAY, entered_by=kim)
    came = Delivered(9, damaged=2, lot="L1", use_by_on=NOW.date() + 90 * DAY, delivery_note="D-1")
    receive_line(line=first, delivered=came, said=said(NOW - 10 * DAY, by=kim))
    slip = receive_line(line=first, delivered=Delivered(3), said=said(NOW - 9 * DAY, by=kim))
    take_back_receipt(receipt=slip, reason="never came", entered_at=NOW, entered_by=kim)
    call_off(line=second, pieces=4, reason="not made now", entered_at=NOW, entered_by=kim)
    for amount, note in (("30.50", ""), ("-30.50", "billed twice")):
        add_charge(
            order=order, kind="freight", amount=Decimal(amount), note=note, entered_at=NOW,
            entered_by=kim,
        )  # fmt: skip
    door = make_door(truck=make_truck(depot=depot))
    make_part_used(door=door, part=slider, draws_on_stock=True, used_at=NOW - 5 * DAY)
    stocked(depot=depot, part=spring, pieces=6, at=NOW - 8 * DAY)
    order.refresh_from_db()
    return order


def on_the_shelves() -> list[tuple[object, ...]]:
    """What lies at each place, and what each depot counts on."""
    balances = StockBalance.objects.order_by("place__depot__code", "place__kind", "part")
    depots = Depot.objects.order_by("code")
    now = [each for depot in depots for each in stock_of(depot=depot, parts=Part.objects.all())]
    return [
        *balances.values_list("place__depot__code", "place__kind", "part__part_number", "on_hand"),
        *((each.part.part_number, each.on_hand, each.on_order, each.expected_on) for each in now),
    ]


def learned() -> list[tuple[str, list[float], int]]:
    return [(each.part.part_number, each.days, each.late) for each in lead_times()]


def test_an_order_goes_round_with_all_that_became_of_it(tmp_path: Path) -> None:
    order = an_order_with_everything()
    assert order.state == OrderState.PART_HERE
    shelves, days = on_the_shelves(), learned()
    assert ("OSL", "shelf", "SLD", 3 + 7 - 1) in shelves
    files = goes_round(tmp_path)
    assert {f"{name}.csv" for name in TABLES} <= set(files)
    assert on_the_shelves() == shelves
    assert learned() == days

    came = PurchaseOrder.objects.get()
    assert (came.number, came.state, came.supplier.code) == (order.number, order.state, "=S")
    assert (came.placed_at, came.supplier_reference) == (order.placed_at, "-77")
    first, second = came.lines.order_by("pk")
    assert (first.quantity, first.received, first.outstanding) == (20, 9, 11)
    assert first.unit_price == Decimal("1.2345")
    assert (second.called_off, second.called_off_reason) == (4, "not made now")
    assert set(OrderStep.objects.values_list("kind", flat=True)) == {
        "placed", "new_day", "called_off", "reminded",
    }  # fmt: skip
    assert [each.amount for each in OrderCharge.objects.order_by("pk")] == [
        Decimal("30.50"), Decimal("-30.50"),
    ]  # fmt: skip
    receipt = OrderReceipt.objects.get(damaged=2)
    assert (receipt.line, receipt.lot.number, receipt.delivery_note) == (first, "L1", "D-1")
    assert OrderReceipt.objects.get(taken_back_reason="never came").line == first
    price = SupplierPrice.objects.get()
    assert (price.unit_price, price.pack_size, price.minimum_quantity) == (
        Decimal("1.2345"), 5, 10,
    )  # fmt: skip


def test_the_ledger_is_booked_anew_as_it_was_known_at_each_day(tmp_path: Path) -> None:
    an_order_with_everything()

    def known() -> list[list[int]]:
        found = []
        for days in (35, 9, 7, 4, 0):
            rows = StockMovement.objects.filter(entered_at__lte=NOW - days * DAY)
            by_part = [rows.filter(part=part) for part in Part.objects.order_by("part_number")]
            found.append([sum(each.values_list("quantity", flat=True)) for each in by_part])
        return found

    before = known()
    goes_round(tmp_path)
    assert known() == before
    assert StockMovement.objects.filter(lot__number="L1", receipt__damaged=2).count() == 2


def test_the_same_folder_twice_adds_nothing(tmp_path: Path) -> None:
    an_order_with_everything()
    shelves = on_the_shelves()
    export_fleet(tmp_path / "fleet")
    assert import_fleet(tmp_path / "fleet", now=NOW).changes_nothing
    assert on_the_shelves() == shelves


def test_a_later_folder_brings_the_rest_of_a_delivery(
    tmp_path: Path,
    recompute_requests: list[tuple[int, ...]],
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    order = make_order(wanted={make_part(): 5})
    place_order(order=order, placed_at=NOW - 19 * DAY, entered_at=NOW - 19 * DAY)
    receive_line(line=order.lines.get(), delivered=Delivered(2), said=said(NOW - 9 * DAY))
    export_fleet(tmp_path / "early")
    receive_line(line=order.lines.get(), delivered=Delivered(3), said=said(NOW - 2 * DAY))
    export_fleet(tmp_path / "late")
    empty_the_database()
    assert not import_fleet(tmp_path / "early", now=NOW).refused
    assert (OrderLine.objects.get().received, StockBalance.objects.get().on_hand) == (2, 2)
    recompute_requests.clear()
    with django_capture_on_commit_callbacks(execute=True):
        report = import_fleet(tmp_path / "late", now=NOW)
    assert {each.table for each in report.counts if each.new} == {"deliveries"}
    assert (OrderLine.objects.get().received, StockBalance.objects.get().on_hand) == (5, 5)
    assert PurchaseOrder.objects.get().state == OrderState.ALL_HERE
    assert recompute_requests == [()]


@pytest.mark.parametrize(
    ("table", "changes", "says"),
    [
        ("orders", {"state": "lost"}, "unknown code; known are: draft, placed"),
        ("orders", {"supplier": "nobody"}, "neither in the folder's suppliers"),
        ("orders", {"placed_at": ""}, "needs its moment"),
        ("orders", {"ended_at": "2026-11-25T01:00"}, "no other has one"),
        ("orders", {"currency": "kr"}, "three capital letters"),
        ("order_lines", {"order": "9"}, "no row of orders"),
        ("order_lines", {"quantity": "8"}, "must not exceed what was ordered"),
        ("order_lines", {"received": "10"}, "the deliveries of this line come to 9"),
        ("order_lines", {"unit_price": "1.23456"}, "at most four decimals"),
        ("order_lines", {"part": "SPR"}, "came for is of SPR"),
        ("order_steps", {"kind": "called_off"}, "names its line, its pieces and the reason"),
        ("order_charges", {"amount": "0"}, "an amount is not 0"),
        ("deliveries", {"damaged": "10"}, "at most what came is damaged"),
        ("deliveries", {"place": "99"}, "no row of stock_places"),
        ("deliveries", {"taken_back_at": "2026-11-25T01:00"}, "the reason is missing"),
        ("stock_places", {"name": "corner"}, "have none"),
        ("stock_lots", {"made_on": "2027-12-01"}, "must not be before made_on"),
        ("suppliers", {"email": "no address"}, "valid email"),
        ("supplier_prices", {"valid_until": "2025-01-01"}, "must not be before valid_from"),
    ],
)
def test_what_does_not_fit_is_told_and_nothing_is_written(
    tmp_path: Path, table: str, changes: dict[str, str], says: str
) -> None:
    an_order_with_everything()
    export_fleet(tmp_path / "fleet")
    empty_the_database()
    report = import_fleet(rewritten(tmp_path / "fleet", table, **changes), now=NOW)
    problems = [str(problem) for problem in report.problems]
    assert any(says in problem for problem in problems), problems
    assert not Supplier.objects.exists()


def test_a_number_that_another_order_has_is_told(tmp_path: Path) -> None:
    order = make_order()
    export_fleet(tmp_path / "fleet")
    PurchaseOrder.objects.update(entered_at=NOW - 25 * DAY)
    report = check_fleet(tmp_path / "fleet", now=NOW)
    assert [(each.file, each.column, each.value) for each in report.problems] == [
        ("orders.csv", "order", order.number)
    ]
