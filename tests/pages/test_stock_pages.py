"""Pages of stock, orders, deliveries, transfers, suppliers and claims."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from io import BytesIO

import openpyxl
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import PartKit, PartKitLine, Role
from inspections.models import (
    ClaimState,
    OrderReceipt,
    OrderState,
    PartReservation,
    PartReturn,
    PurchaseOrder,
    StockBalance,
    StockCount,
    StockMovement,
    StockTransfer,
    Supplier,
    SupplierPrice,
)
from inspections.services.issuing import issue_pieces
from inspections.services.transfers import send_pieces
from tests.factories import NOW, make_depot, make_door, make_part, make_part_used
from tests.pages.conftest import SignIn
from tests.stock_factories import (
    DAY,
    make_claim,
    make_line,
    make_order,
    make_placed_order,
    make_price,
    make_receipt,
    make_reservation,
    make_supplier,
    make_van,
    said,
    shelf_of,
    stocked,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
TODAY = NOW.date()


def text_of(client: Client, name: str, *arguments: object, **query: str) -> str:
    answer = client.get(reverse(name, args=arguments), query)
    assert answer.status_code == 200
    return answer.content.decode()


def send(client: Client, route: str, /, *arguments: object, **data: object) -> str:
    """Post a form; empty text once it was taken, else the page that says why not."""
    answer = client.post(reverse(route, args=arguments), data)
    assert answer.status_code in (200, 302)
    return "" if answer.status_code == 302 else answer.content.decode()


# Orders


def test_from_an_empty_list_to_a_placed_order(sign_in: SignIn) -> None:
    client, depot, part = sign_in(Role.BUYER), make_depot(), make_part(name="Coil cable")
    assert "Keep a supplier first" in text_of(client, "order-list")
    facts = {"code": "OX", "name": "Oxlip", "currency": "USD", "is_active": "on"}
    assert send(client, "supplier-new", **facts) == ""
    supplier = Supplier.objects.get()
    assert "Write the first one" in text_of(client, "order-list")
    price = {
        "part": part.pk, "unit_price": "12.5", "currency": "USD", "pack_size": 5,
        "minimum_quantity": 1, "quoted_lead_days": 10, "valid_from": "2026-01-01",
    }  # fmt: skip
    assert send(client, "supplier-detail", "OX", **price) == ""
    assert SupplierPrice.objects.get().part == part
    assert "begins on that day already" in send(client, "supplier-detail", "OX", **price)
    line = {"part": part.pk, "quantity": 7}
    assert send(client, "order-new", supplier=supplier.pk, depot=depot.pk, **line) == ""
    order = PurchaseOrder.objects.get()
    assert order.lines.get().quantity == 10
    assert "Being written" in text_of(client, "order-detail", order.number)
    other = make_part()
    assert send(client, "order-line-new", order.number, part=other.pk, quantity=1) == ""
    assert send(client, "order-line-strike", order.lines.get(part=other).pk) == ""
    assert send(client, "order-place", order.number, placed_at="2026-11-25T11:00") == ""
    page = text_of(client, "order-detail", order.number)
    assert "With the supplier" in page
    assert "Sat 5 Dec 2026" in page
    assert "1 order is with a supplier" in text_of(client, "order-list")


def test_a_late_order_is_told_and_given_another_day(sign_in: SignIn) -> None:
    client = sign_in(Role.BUYER)
    line = make_line(order=make_placed_order(at=NOW - 40 * DAY))
    assert "late" in text_of(client, "order-list", which="late")
    assert "was expected on" in text_of(client, "order-detail", line.order.number)
    day = {"expected_on": "2026-12-09", "note": "by phone"}
    assert send(client, "order-line-day", line.pk, **day) == ""
    assert send(client, "order-remind", line.order.number, reason="asked Kim") == ""
    assert send(client, "order-charge", line.order.number, kind="freight", amount="30") == ""
    page = text_of(client, "order-detail", line.order.number)
    assert "Late." not in page
    for words in ("by phone", "asked Kim", "Freight: 30.00"):
        assert words in page
    assert send(client, "order-line-off", line.pk, pieces=1, reason="one will do") == ""
    assert "at most" not in text_of(client, "order-line-off", line.pk)
    assert "cannot be called off" in send(
        client, "order-line-off", line.pk, pieces=9, reason="too many"
    )
    assert send(client, "order-call-off", line.order.number, reason="closed") == ""
    assert PurchaseOrder.objects.get().state == OrderState.CALLED_OFF


def test_an_order_goes_out_as_a_table_that_runs_no_formula(sign_in: SignIn) -> None:
    client = sign_in(Role.BUYER)
    part = make_part(part_number="P-1", name="=HYPERLINK(1)")
    price = make_price(part=part, unit_price="2.5")
    order = make_order(supplier=price.supplier, wanted={part: 4})
    text = client.get(reverse("order-csv", args=[order.number])).content.decode("utf-8-sig")
    assert "'=HYPERLINK(1)" in text.splitlines()[1]
    answer = client.get(reverse("order-workbook", args=[order.number]))
    sheet = openpyxl.load_workbook(BytesIO(answer.content)).active
    row = {head.value: cell for head, cell in zip(*sheet.iter_rows(), strict=True)}
    assert row["Name"].data_type == "s"
    assert (row["Pieces"].value, row["Amount"].value) == (4, 10)


def test_a_delivery_is_received_by_its_code_on_a_phone(sign_in: SignIn) -> None:
    depot = make_depot()
    client = sign_in(Role.TECHNICIAN, [depot])
    assert "Nothing is on its way" in text_of(client, "receive")
    part = make_part(part_number="FD-77", name="Slider")
    line = make_line(order=make_placed_order(depot=depot, wanted={part: 5}))
    make_placed_order()
    page = text_of(client, "receive", code=line.order.number.lower())
    assert "5 of 5 to come" in page
    assert "Slider" in text_of(client, "receive", code="fd-77")
    assert "waits under this number" in text_of(client, "receive", code="nothing")
    assert "still to come on this order" in send(client, "receive-line", line.pk, quantity=6)
    assert send(client, "receive-line", line.pk, quantity=3, damaged=1, lot="L7") == ""
    balances = dict(StockBalance.objects.values_list("place__kind", "on_hand"))
    assert balances == {"shelf": 2, "set_aside": 1}
    shelf = {"place": shelf_of(depot).pk, "quantity": 2}
    assert send(client, "receive-part", "FD-77", **shelf, note="gift") == ""
    assert list(OrderReceipt.objects.values_list("quantity", "note")) == [(3, ""), (2, "gift")]


def test_a_part_that_ages_is_received_with_its_last_day(sign_in: SignIn) -> None:
    part = make_part()
    part.shelf_life_days = 400
    part.save()
    line = make_line(order=make_placed_order(wanted={part: 1}))
    client = sign_in(Role.BUYER)
    assert "This field is required" in send(client, "receive-line", line.pk, quantity=1)
    assert send(client, "receive-line", line.pk, quantity=1, use_by_on="2027-12-01") == ""
    assert "use by" in text_of(client, "stock-ledger", line.order.depot.code, part.part_number)


def test_a_delivery_is_taken_back_by_the_buyer(sign_in: SignIn) -> None:
    receipt = make_receipt(pieces=2)
    client = sign_in(Role.BUYER)
    assert send(client, "receipt-undo", receipt.pk, reason="another depot's") == ""
    assert StockBalance.objects.get().on_hand == 0


# Stock


def test_a_count_is_blind_and_asks_why_it_differs(sign_in: SignIn) -> None:
    part = make_part(name="Slider")
    depot = stocked(part=part, pieces=7).depot
    client = sign_in(Role.BUYER)
    blind = text_of(client, "stock-count-new", depot.code, part=str(part.pk))
    assert ">7<" not in blind
    data = {"part": part.pk, "on_hand": 5, "counted_at": "2026-11-25T12:00"}
    asked = send(client, "stock-count-new", depot.code, **data)
    assert "2 pieces fewer than on record" in asked
    assert not StockCount.objects.exists()
    assert send(client, "stock-count-new", depot.code, **data, difference_reason="lost") == ""
    assert StockCount.objects.get().difference_reason == "lost"
    data |= {"on_hand": 5, "counted_at": "2026-11-25T12:00"}
    assert send(client, "stock-count-new", depot.code, **data) == ""
    page = text_of(client, "stock-ledger", depot.code, part.part_number)
    for words in ("5 counted", "lost", "delivery", "5 on hand"):
        assert words in page.lower()
    sheet = text_of(client, "stock-sheet", depot.code)
    assert "Slider" in sheet
    assert ">5<" not in sheet


def test_what_moves_is_written_down_and_taken_back(sign_in: SignIn) -> None:
    part = make_part()
    place = stocked(part=part, pieces=5)
    code = place.depot.code
    client = sign_in(Role.TECHNICIAN)
    door = make_door(serial="D-9")
    move = {"place": place.pk, "kind": "issue", "quantity": 2}
    where = ("stock-move", code, part.part_number)
    assert "No door has the serial" in send(client, *where, **move, door="D-0")
    assert send(client, *where, **move, door="D-9") == ""
    taken = StockMovement.objects.latest("pk")
    assert taken.door == door
    assert send(client, *where, **{**move, "quantity": 1, "kind": "return"}) == ""
    assert "Say why" in send(client, *where, **{**move, "kind": "write_off"})
    assert send(client, *where, **{**move, "kind": "aside", "reason": "wet"}) == ""
    assert "holds 2 of" in send(client, *where, **{**move, "quantity": 9})
    assert "Take back" in text_of(client, "stock-ledger", code, part.part_number)
    assert send(client, "movement-undo", taken.pk, reason="wrong part") == ""
    assert StockBalance.objects.get(place=place).on_hand == 4
    assert "taken back later" in text_of(client, "stock-ledger", code, part.part_number)


def test_a_kit_is_handed_out(sign_in: SignIn) -> None:
    part = make_part()
    place = stocked(part=part, pieces=3)
    kit = PartKit.objects.create(code="K")
    PartKitLine.objects.create(kit=kit, part=part, quantity=2)
    client = sign_in(Role.TECHNICIAN)
    data = {"kit": kit.pk, "place": place.pk}
    assert send(client, "kit-issue", place.depot.code, **data) == ""
    assert "holds 1 of" in send(client, "kit-issue", place.depot.code, **data)


def test_a_transfer_is_sent_received_and_called_back(sign_in: SignIn) -> None:
    here, there = make_depot(), make_depot()
    part = make_part()
    place = stocked(depot=here, part=part, pieces=5)
    sender, receiver = sign_in(Role.TECHNICIAN, [here]), sign_in(Role.TECHNICIAN, [there])
    assert "Nothing is on its way" in text_of(sender, "transfer-list")
    data = {"from_place": place.pk, "to_place": shelf_of(there).pk}
    where = ("transfer-new", here.code, part.part_number)
    assert "holds 5 of" in send(sender, *where, **data, quantity=6)
    assert not StockTransfer.objects.exists()
    assert send(sender, *where, **data, quantity=2) == ""
    assert send(sender, *where, **data, quantity=1) == ""
    first, second = StockTransfer.objects.order_by("pk")
    assert sender.get(reverse("transfer-receive", args=[first.pk])).status_code == 404
    assert "missing: say why" in send(receiver, "transfer-receive", first.pk, arrived=1)
    assert send(receiver, "transfer-receive", first.pk, arrived=2) == ""
    assert receiver.get(reverse("transfer-back", args=[second.pk])).status_code == 404
    assert send(sender, "transfer-back", second.pk, reason="no room") == ""
    assert "Arrived lately" in text_of(receiver, "transfer-list")
    balances = dict(StockBalance.objects.values_list("place__depot", "on_hand"))
    assert balances == {here.pk: 3, there.pk: 2}


def test_the_stock_says_what_is_kept_and_what_must_be_counted(sign_in: SignIn) -> None:
    kept = make_reservation()
    depot = kept.depot
    make_part_used(
        door=make_door(), part=kept.part, quantity=3, depot=depot, draws_on_stock=True, used_at=NOW
    )
    stocked(depot=depot, part=kept.part, pieces=2)
    client = sign_in(Role.BUYER)
    page = text_of(client, "stock-count", depot.code)
    assert "More was used than the record knew of" in page
    assert "-1, used more than counted" in page
    assert "Give" in page
    assert send(client, "reservation-free", kept.pk, reason="other part fits") == ""
    assert not PartReservation.objects.standing().exists()


# Claims


def test_a_claim_is_begun_and_answered(sign_in: SignIn) -> None:
    client, depot = sign_in(Role.BUYER), make_depot()
    assert "No claim yet" in text_of(client, "claim-list")
    data = {
        "kind": "core", "depot": depot.pk, "part": make_part().pk, "quantity": 1,
        "supplier": make_supplier().pk, "what_is_wrong": "Old motor",
    }  # fmt: skip
    assert send(client, "claim-new", **data) == ""
    claim = PartReturn.objects.get()
    assert "Old motor" in text_of(client, "claim-detail", claim.pk)
    assert "amount of 0 or more" in send(client, "claim-detail", claim.pk, kind="credited")
    assert send(client, "claim-detail", claim.pk, kind="credited", credit="25") == ""
    claim.refresh_from_db()
    assert claim.state == ClaimState.CREDITED
    assert "25.00 USD" in text_of(client, "claim-detail", claim.pk)


# Who sees what


@pytest.mark.parametrize("role", list(Role))
def test_orders_are_the_buyers_and_stock_is_everyones(sign_in: SignIn, role: Role) -> None:
    depot = stocked().depot
    client = sign_in(role)
    assert client.get(reverse("stock-count", args=[depot.code])).status_code == 200
    reads = role in (Role.BUYER, Role.PLANNER, Role.ADMINISTRATOR)
    for name in ("order-list", "supplier-list", "claim-list"):
        assert client.get(reverse(name)).status_code == (200 if reads else 403)
    stores = role in (Role.BUYER, Role.TECHNICIAN, Role.ADMINISTRATOR)
    for name in ("receive", "transfer-list"):
        assert client.get(reverse(name)).status_code == (200 if stores else 403)
    writes = role in (Role.BUYER, Role.ADMINISTRATOR)
    assert client.get(reverse("order-new")).status_code == (200 if writes else 403)


def test_another_depots_things_are_not_there(sign_in: SignIn) -> None:
    line = make_line(order=make_placed_order())
    receipt = make_receipt()
    place = stocked()
    movement = StockMovement.objects.get(place=place)
    transfer = send_pieces(
        from_place=place, to_place=shelf_of(make_depot()), part=movement.part, quantity=1,
        said=said(),
    )  # fmt: skip
    pages = [
        ("order-detail", line.order.number), ("order-line-new", line.order.number),
        ("order-place", line.order.number), ("order-remind", line.order.number),
        ("order-charge", line.order.number), ("order-call-off", line.order.number),
        ("order-csv", line.order.number), ("order-workbook", line.order.number),
        ("order-line-day", line.pk), ("order-line-off", line.pk), ("receive-line", line.pk),
        ("receipt-undo", receipt.pk), ("stock-count", place.depot.code),
        ("stock-count-new", place.depot.code), ("stock-sheet", place.depot.code),
        ("kit-issue", place.depot.code), ("movement-undo", movement.pk),
        ("stock-ledger", place.depot.code, movement.part.part_number),
        ("stock-move", place.depot.code, movement.part.part_number),
        ("transfer-new", place.depot.code, movement.part.part_number),
        ("transfer-receive", transfer.pk), ("transfer-back", transfer.pk),
        ("claim-detail", make_claim().pk), ("reservation-free", make_reservation().pk),
    ]  # fmt: skip
    client = sign_in(Role.BUYER, [make_depot()])
    answers = {
        name: client.get(reverse(name, args=arguments)).status_code for name, *arguments in pages
    }
    assert {name: code for name, code in answers.items() if code != 404} == {}
    assert client.post(reverse("order-line-strike", args=[line.pk])).status_code == 404


# The cost of a page


def cost(client: Client, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_queries_stay_equal_when_rows_triple(sign_in: SignIn) -> None:
    depot, part, supplier = make_depot(), make_part(), make_supplier()
    van = make_van(depot=depot)
    order = make_order(depot=depot, supplier=supplier)

    def more() -> None:
        make_line(order=make_placed_order(depot=depot, supplier=supplier))
        line = make_line(order=make_placed_order(depot=depot, supplier=supplier))
        make_receipt(line=line)
        place = stocked(depot=depot, part=part, pieces=6, lot=f"L{line.pk}")
        issue_pieces(place=place, part=part, quantity=1, said=said())
        send_pieces(from_place=place, to_place=van, part=part, quantity=1, said=said())
        make_reservation(depot=depot)
        make_claim(depot=depot)
        make_price(supplier=supplier)
        make_order(depot=depot, supplier=supplier, wanted={make_part(): 1})

    more()
    client = sign_in(Role.BUYER)
    pages: list[Callable[[], str]] = [
        lambda: reverse("order-list"),
        lambda: reverse("order-detail", args=[order.number]),
        lambda: reverse("receive"),
        lambda: reverse("transfer-list"),
        lambda: reverse("stock-count", args=[depot.code]),
        lambda: reverse("stock-ledger", args=[depot.code, part.part_number]),
        lambda: reverse("stock-sheet", args=[depot.code]),
        lambda: reverse("supplier-detail", args=[supplier.code]),
        lambda: reverse("claim-list"),
    ]
    first = [cost(client, page()) for page in pages]
    for _each in range(2):
        more()
    assert [cost(client, page()) for page in pages] == first


def test_money_is_shown_in_the_orders_currency(sign_in: SignIn) -> None:
    price = make_price(currency="EUR", unit_price="3.3333")
    order = make_order(supplier=price.supplier, wanted={price.part: 3})
    page = text_of(sign_in(Role.PLANNER), "order-detail", order.number)
    assert "EUR" in page
    assert order.lines.get().unit_price == Decimal("3.3333")
