"""Orders: written, placed, received bit by bit, postponed, called off; and what a piece costs."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.models import (
    ClaimState,
    OrderLine,
    OrderReceipt,
    OrderState,
    OrderStep,
    PartReservation,
    PurchaseOrder,
    StockBalance,
    StockMovement,
    SupplierPrice,
)
from inspections.services.issuing import issue_pieces
from inspections.services.landed_cost import landed_cost, shared_out
from inspections.services.lead_times import lead_times
from inspections.services.ledger import StockRefusedError
from inspections.services.order_changes import (
    add_charge,
    call_off,
    call_off_order,
    name_another_day,
    remind_supplier,
)
from inspections.services.order_state import OrderRefusedError
from inspections.services.ordering import (
    Wanted,
    place_order,
    put_on_order,
    strike_line,
    write_order,
)
from inspections.services.part_claims import Claimed, ClaimRefusedError, open_claim, step_claim
from inspections.services.receiving import (
    Delivered,
    receive_line,
    receive_without_order,
    take_back_receipt,
)
from inspections.services.reservations import (
    end_with_visit,
    give_free,
    keep_for_trace,
    keep_for_visit,
    part_of_components,
    use_up,
)
from inspections.services.stock_now import lots_at, on_hand_now
from inspections.services.transfers import set_aside
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_part,
    make_stock_count,
)
from tests.stock_factories import (
    DAY,
    make_line,
    make_order,
    make_placed_order,
    make_price,
    make_receipt,
    make_reservation,
    make_supplier,
    said,
    shelf_of,
)
from tests.truck_factories import make_trace, make_visit

pytestmark = pytest.mark.django_db
TODAY = NOW.date()


def test_a_line_takes_the_suppliers_packs_minimum_price_and_lead_time() -> None:
    price = make_price(unit_price="1.2500", pack_size=10, minimum_quantity=25, quoted_lead_days=9)
    make_price(
        supplier=price.supplier, part=price.part, unit_price="9", valid_from=date(2027, 1, 1)
    )
    order = write_order(
        supplier=price.supplier, depot=make_depot(), wanted=[Wanted(price.part, 4)], entered_at=NOW
    )
    line = order.lines.get()
    assert (line.quantity, line.unit_price, line.quoted_lead_days) == (30, Decimal("1.25"), 9)
    placed = place_order(order=order, placed_at=NOW, entered_at=NOW)
    line.refresh_from_db()
    assert (placed.state, line.expected_on) == (OrderState.PLACED, TODAY + timedelta(days=9))
    again = place_order(order=placed, placed_at=NOW, entered_at=NOW)
    assert again.state == OrderState.PLACED
    assert OrderStep.objects.count() == 1


def test_a_newer_price_takes_the_place_of_the_one_before() -> None:
    old = make_price(unit_price="5", valid_from=date(2026, 1, 1))
    new = make_price(
        supplier=old.supplier, part=old.part, unit_price="6", valid_from=date(2026, 6, 1)
    )
    other = make_price(part=old.part, unit_price="5.50")
    assert list(SupplierPrice.objects.on_day(date(2026, 5, 31))) == [old, other]
    assert list(SupplierPrice.objects.on_day(TODAY)) == [other, new]


def test_orders_are_numbered_by_year_without_a_gap() -> None:
    assert [make_order(at=NOW).number for _each in range(2)] == ["2026-0001", "2026-0002"]
    assert make_order(at=NOW + 60 * DAY).number == "2027-0001"


def test_a_draft_is_changed_until_it_is_placed() -> None:
    part = make_part()
    order = make_order(wanted={part: 5})
    put_on_order(order=order, wanted=Wanted(part, 7), today=TODAY)
    assert order.lines.get().quantity == 7
    strike_line(line=order.lines.get())
    with pytest.raises(OrderRefusedError, match="without a line"):
        place_order(order=order, placed_at=NOW, entered_at=NOW)
    put_on_order(order=order, wanted=Wanted(part, 2), today=TODAY)
    placed = place_order(order=order, placed_at=NOW, entered_at=NOW)
    for change in (
        lambda: put_on_order(order=placed, wanted=Wanted(part, 3), today=TODAY),
        lambda: strike_line(line=placed.lines.get()),
    ):
        with pytest.raises(OrderRefusedError, match="being written is changed"):
            change()


def test_an_order_has_one_currency() -> None:
    price = make_price(currency="EUR", supplier=make_supplier(currency="USD"))
    with pytest.raises(OrderRefusedError, match=r"in USD and .* is offered in EUR"):
        write_order(
            supplier=price.supplier, depot=make_depot(), wanted=[Wanted(price.part, 1)],
            entered_at=NOW,
        )  # fmt: skip
    assert not PurchaseOrder.objects.exists(), "an order refused is not begun"


def test_pieces_come_bit_by_bit_and_the_order_says_where_it_stands() -> None:
    depot, part = make_depot(), make_part()
    line = make_line(order=make_placed_order(depot=depot, wanted={part: 5}))
    before = on_hand_now(depot=depot, part=part)
    assert before is None
    receive_line(line=line, delivered=Delivered(2, damaged=1, lot="A"), said=said())
    line.order.refresh_from_db()
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert (line.order.state, now.on_hand, now.ordered) == (OrderState.PART_HERE, 1, 3)
    with pytest.raises(StockRefusedError, match="3 are still to come on this order, and 4"):
        receive_line(line=line, delivered=Delivered(4), said=said())
    receive_line(line=line, delivered=Delivered(3), said=said())
    line.order.refresh_from_db()
    assert (line.order.state, line.order.ended_at) == (OrderState.ALL_HERE, NOW)
    with pytest.raises(StockRefusedError, match="“all here”"):
        receive_line(line=line, delivered=Delivered(1), said=said())


@pytest.mark.parametrize(
    ("delivered", "at", "field"),
    [
        (Delivered(0), NOW, "quantity"),
        (Delivered(1, damaged=2), NOW, "damaged"),
        (Delivered(1), NOW - 90 * DAY, "received_at"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused(delivered, at, field) -> None:  # type: ignore[no-untyped-def]
    line = make_line()
    with pytest.raises(StockRefusedError) as refused:
        receive_line(line=line, delivered=delivered, said=said(at))
    assert refused.value.field == field
    assert not OrderReceipt.objects.exists()
    assert not StockMovement.objects.exists()


def test_a_lot_has_one_last_day_of_use() -> None:
    part, place = make_part(), shelf_of(make_depot())
    soon, later = TODAY + timedelta(days=10), TODAY + timedelta(days=400)
    for pieces, lot, day in ((2, "B", later), (3, "A", soon)):
        receive_without_order(
            part=part, place=place, delivered=Delivered(pieces, lot=lot, use_by_on=day), said=said()
        )
    with pytest.raises(StockRefusedError, match="another last day of use"):
        receive_without_order(
            part=part, place=place, delivered=Delivered(1, lot="A", use_by_on=later), said=said()
        )
    issue_pieces(place=place, part=part, quantity=4, said=said())
    left = lots_at(depot=place.depot, part=part, today=TODAY)
    assert [(each.lot.number, each.pieces) for each in left] == [("B", 1)]


def test_a_delivery_taken_back_is_waited_for_again() -> None:
    receipt = make_receipt(pieces=5)
    assert receipt.line is not None
    assert receipt.line.order.state == OrderState.ALL_HERE
    with pytest.raises(StockRefusedError, match="the reason is empty"):
        take_back_receipt(receipt=receipt, reason="", entered_at=NOW)
    take_back_receipt(receipt=receipt, reason="another depot's", entered_at=NOW)
    line = OrderLine.objects.select_related("order").get()
    assert (line.received, line.order.state) == (0, OrderState.PLACED)
    assert StockBalance.objects.get().on_hand == 0
    with pytest.raises(StockRefusedError, match="taken back before"):
        take_back_receipt(receipt=receipt, reason="again", entered_at=NOW)
    assert lead_times() == []


def test_a_delivery_whose_pieces_were_used_is_not_taken_back() -> None:
    receipt = make_receipt(pieces=5)
    issue_pieces(place=receipt.place, part=receipt.part, quantity=1, said=said())
    with pytest.raises(StockRefusedError, match="holds 4 of"):
        take_back_receipt(receipt=receipt, reason="wrong", entered_at=NOW)
    receipt.refresh_from_db()
    assert receipt.taken_back_at is None


def test_what_is_left_is_called_off_and_the_order_ends() -> None:
    line = make_line()
    receive_line(line=line, delivered=Delivered(2), said=said())
    with pytest.raises(OrderRefusedError, match="3 are still to come; 4 cannot"):
        call_off(line=line, pieces=4, reason="too slow", entered_at=NOW)
    call_off(line=line, pieces=3, reason="too slow", entered_at=NOW)
    line.order.refresh_from_db()
    assert line.order.state == OrderState.ALL_HERE
    other = make_placed_order()
    ended = call_off_order(order=other, reason="supplier closed", entered_at=NOW)
    assert (ended.state, ended.called_off_reason) == (OrderState.CALLED_OFF, "supplier closed")
    draft = call_off_order(order=make_order(), reason="not needed", entered_at=NOW)
    assert draft.state == OrderState.CALLED_OFF
    with pytest.raises(OrderRefusedError, match="pieces still to come"):
        call_off_order(order=draft, reason="again", entered_at=NOW)


def test_days_named_stay_on_record_and_a_line_is_late_after_the_last_of_them() -> None:
    line = make_line()
    for days in (-3, 4):
        name_another_day(
            line=line, expected_on=TODAY + timedelta(days=days), note="by phone", entered_at=NOW
        )
        late = PurchaseOrder.objects.late(TODAY).exists()
        assert late is (days < 0)
    remind_supplier(order=line.order, note="asked Kim", entered_at=NOW)
    kinds = list(OrderStep.objects.values_list("kind", flat=True))
    assert kinds == ["placed", "new_day", "new_day", "reminded"]


def test_the_stock_knows_what_was_noted_as_ordered_elsewhere_until_it_comes() -> None:
    depot, part = make_depot(), make_part()
    make_stock_count(
        depot=depot, part=part, on_hand=1, on_order=6, expected_on=TODAY + 5 * DAY,
        counted_at=NOW - 9 * DAY,
    )  # fmt: skip
    make_placed_order(depot=depot, wanted={part: 2})
    receive_without_order(
        part=part, place=shelf_of(depot), delivered=Delivered(4), said=said(NOW - DAY)
    )
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    # Two of ours, expected ten days after they were ordered, and two of the six noted.
    assert (now.on_hand, now.on_order, now.expected_on) == (5, 4, TODAY - 10 * DAY)


def test_freight_and_duty_are_shared_out_by_value() -> None:
    dear = make_price(unit_price="90")
    cheap = make_price(supplier=dear.supplier, unit_price="10")
    order = make_order(supplier=dear.supplier, wanted={dear.part: 1, cheap.part: 1})
    for amount, note in (("30", ""), ("-10", "credit for late freight")):
        add_charge(order=order, kind="freight", amount=Decimal(amount), note=note, entered_at=NOW)
    landed = landed_cost(order)
    assert [line.share for line in landed.lines] == [Decimal("18.00"), Decimal("2.00")]
    assert [line.unit_cost for line in landed.lines] == [Decimal("108.0000"), Decimal("12.0000")]
    assert landed.total == Decimal("120")
    with pytest.raises(OrderRefusedError, match="reason is empty"):
        add_charge(order=order, kind="duty", amount=Decimal("-1"), note="", entered_at=NOW)


@given(
    st.decimals(-1000, 1000, places=2), st.lists(st.integers(0, 10_000), min_size=1, max_size=20)
)
@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_shares_of_a_cost_are_whole_cents_and_add_up(amount: Decimal, weights: list[int]) -> None:
    shares = shared_out(amount, [Decimal(each) for each in weights])
    assert sum(shares) == (amount if any(weights) else 0)
    assert all(share == round(share, 2) for share in shares)


def test_lead_times_are_those_of_deliveries() -> None:
    part, supplier = make_part(), make_supplier()
    for days in (10, 14):
        order = make_placed_order(supplier=supplier, wanted={part: 1}, at=NOW - 40 * DAY)
        receive_line(
            line=order.lines.get(), delivered=Delivered(1), said=said(NOW - (40 - days) * DAY)
        )
    (found,) = lead_times(supplier=supplier)
    assert (found.days, found.mean_days, found.spread_days) == ([10.0, 14.0], 12.0, 2.0)


def test_a_claim_goes_step_by_step_and_moves_what_lies_among_the_stock() -> None:
    receipt = make_receipt(pieces=5)
    depot = receipt.place.depot
    set_aside(place=receipt.place, part=receipt.part, quantity=2, said=said(), reason="cracked")
    claim = open_claim(
        depot=depot,
        claimed=Claimed(
            kind="delivery", part=receipt.part, supplier=receipt.line.order.supplier,
            what_is_wrong="cracked", quantity=2, is_from_stock=True, receipt=receipt,
        ),
        entered_at=NOW,
    )  # fmt: skip
    with pytest.raises(ClaimRefusedError, match="does not become"):
        step_claim(claim=claim, kind=ClaimState.REFUSED, said=said(), note="no")
    claim = step_claim(claim=claim, kind=ClaimState.SENT_BACK, said=said())
    aside = StockBalance.objects.get(place__kind="set_aside")
    assert aside.on_hand == 0
    with pytest.raises(ClaimRefusedError, match="amount of 0 or more"):
        step_claim(claim=claim, kind=ClaimState.CREDITED, said=said())
    claim = step_claim(claim=claim, kind=ClaimState.REPLACED, said=said())
    assert claim.state == ClaimState.REPLACED
    assert StockBalance.objects.get(place=receipt.place).on_hand == 5
    assert [step.kind for step in claim.steps.all()] == ["sent_back", "replaced"]


# Reservations


def test_a_planned_visit_keeps_the_part_that_replaces_the_fitted_one() -> None:
    door = make_door()
    old = make_part(component=component("coil_cable"))
    new = make_part(component=component("coil_cable"))
    new.replaces = old
    new.save()
    make_part(component=component("coil_cable"))
    make_fitment(door=door, component=component("coil_cable"), part=old)
    assert part_of_components(door, ["coil_cable"]) == {"coil_cable": new}
    visit = make_visit(door=door)
    fault = make_fault(door=door, component=component("coil_cable"))
    (kept,) = keep_for_visit(visit=visit, faults=[fault], at=NOW)
    assert (kept.part, kept.quantity, kept.depot) == (new, 1, visit.depot)
    assert keep_for_visit(visit=visit, faults=[fault], at=NOW) == []
    end_with_visit(visit=visit, at=NOW + DAY)
    kept.refresh_from_db()
    assert (kept.was_used, kept.reason) == (False, "the visit ended without it")


def test_a_verdict_keeps_its_part_and_use_ends_it() -> None:
    trace = make_trace(door=make_door())
    part = make_part(component=component("converter"))
    (kept,) = keep_for_trace(trace=trace, components=["converter"], at=NOW)
    assert kept.part == part
    assert keep_for_trace(trace=trace, components=["converter"], at=NOW) == []
    use_up(door=trace.door, parts=[part], at=NOW - DAY)
    kept.refresh_from_db()
    assert (kept.was_used, kept.ended_at) == (True, NOW)
    keep_for_trace(trace=trace, components=["converter"], at=NOW)
    keep_for_trace(trace=trace, components=[], at=NOW)
    assert not PartReservation.objects.standing().exists()


def test_a_reservation_is_given_free_once_with_a_reason() -> None:
    kept = make_reservation()
    with pytest.raises(StockRefusedError, match="the reason is empty"):
        give_free(reservation=kept, reason="", at=NOW)
    give_free(reservation=kept, reason="other part fits", at=NOW)
    with pytest.raises(StockRefusedError, match="ended already"):
        give_free(reservation=kept, reason="again", at=NOW)
