"""The buyer's day: from what must be ordered today to the pieces on the shelf."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from fleetdoors.models import Part, Role, User
from inspections.models import OrderState, PurchaseOrder, StockBalance
from tests.factories import NOW, component, make_depot, make_part, make_stock_count
from tests.pages.running_fleet import compute, make_wearing_fleet
from tests.stock_factories import make_price, make_supplier

PASSWORD = "a long enough secret"
WIDER_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
COUNTED = 1
# So long that three on the shelf are still too few.
LEAD_DAYS = 90.0
MOST_TABS = 40


@pytest.fixture(autouse=True)
def _fleet(live_server: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two kinds of part that wear out, from a supplier each, nearly none on the shelf."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    depot = make_depot(code="N")
    for number, name, code in (
        ("CAB-A", "Coil cable", "coil_cable"),
        ("ROL-A", "Roller", "roller"),
    ):
        part = make_part(
            part_number=number, name=name, component=component(code), lead_time_days=LEAD_DAYS
        )
        make_wearing_fleet(doors=8, depot=depot, code=code, part=part)
        make_price(
            part=part,
            supplier=make_supplier(code=number[:3]),
            unit_price="20",
            quoted_lead_days=LEAD_DAYS,
        )
        make_stock_count(
            depot=depot, part=part, counted_at=NOW - timedelta(days=3), on_hand=COUNTED
        )
    compute()
    User.objects.create_user(username="buyer", password=PASSWORD, role=Role.BUYER)


def enter(page: Page, address: str) -> None:
    page.goto(address)
    page.locator("input[name=username]").fill("buyer")
    page.locator("input[name=password]").fill(PASSWORD)
    page.keyboard.press("Enter")


def fits_without_barrier(page: Page) -> None:
    page.locator("summary", has_text="Why?").first.click()
    assert page.evaluate(WIDER_BY) == 0
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def line_of(page: Page, name: str) -> Locator:
    return page.locator("tbody tr").filter(has=page.get_by_role("link", name=name, exact=True))


def tab_to(page: Page, control: Locator) -> None:
    """Reach a control as somebody without a mouse does."""
    for _step in range(MOST_TABS):
        if control.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"{control} is not reached by the keyboard.")


def on_hand(number: str) -> int:
    return StockBalance.objects.get(part=Part.objects.get(part_number=number)).on_hand


def order_from(code: str) -> PurchaseOrder:
    return PurchaseOrder.objects.get(supplier__code=code)


def test_from_the_list_of_today_to_drafts_by_the_keyboard_alone(desk: Page) -> None:
    enter(desk, "/order-today/")
    expect(desk.get_by_text("2 parts at depots are at or below their level")).to_be_visible()
    fits_without_barrier(desk)
    for name in ("Coil cable", "Roller"):
        expect(line_of(desk, name).get_by_role("checkbox")).to_be_checked()
    # The roller waits; of the cable so many come, and Enter in their field writes the order.
    tab_to(desk, line_of(desk, "Roller").get_by_role("checkbox"))
    desk.keyboard.press("Space")
    expect(line_of(desk, "Roller").get_by_role("checkbox")).not_to_be_checked()
    desk.get_by_label("Pieces of Coil cable").focus()
    desk.keyboard.press("Control+A")
    desk.keyboard.type("none")
    desk.keyboard.press("Enter")
    # What was wrong is told, and what was ticked and what was not is as it was.
    expect(desk.get_by_text("A quantity is a whole number")).to_be_visible()
    expect(line_of(desk, "Coil cable").get_by_role("checkbox")).to_be_checked()
    expect(line_of(desk, "Roller").get_by_role("checkbox")).not_to_be_checked()
    tab_to(desk, desk.get_by_label("Pieces of Coil cable"))
    desk.keyboard.press("Control+A")
    desk.keyboard.type("12")
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", level=1)).to_contain_text("from Supplier CAB")
    order = order_from("CAB")
    assert (order.state, order.lines.get().quantity) == (OrderState.DRAFT, 12)
    # The list knows of it, and does not propose it a second time.
    desk.goto("/order-today/")
    expect(line_of(desk, "Coil cable").get_by_role("checkbox")).not_to_be_checked()
    expect(line_of(desk, "Roller").get_by_role("checkbox")).to_be_checked()
    desk.get_by_role("link", name=f"12 are on order {order}, not placed yet").click()
    tab_to(desk, desk.get_by_role("link", name="Place the order"))
    desk.keyboard.press("Enter")
    tab_to(desk, desk.get_by_role("button", name="It is placed"))
    desk.keyboard.press("Enter")
    expect(desk.get_by_text(f"Order {order} is placed.")).to_be_visible()
    desk.goto("/order-today/")
    expect(desk.get_by_text("1 part at a depot is at or below its level")).to_be_visible()
    expect(line_of(desk, "Coil cable")).to_have_count(0)


def test_from_the_list_of_today_to_received_stock_on_a_phone(phone: Page) -> None:
    enter(phone, "/order-today/")
    fits_without_barrier(phone)
    phone.get_by_label("Pieces of Coil cable").fill("12")
    phone.get_by_role("button", name="Write the orders").click()
    expect(phone.get_by_text("2 lines are on orders being written")).to_be_visible()
    for code in ("CAB", "ROL"):
        phone.goto(f"/orders/{order_from(code)}/")
        phone.get_by_role("link", name="Place the order").click()
        phone.get_by_role("button", name="It is placed").click()
        expect(phone.get_by_text("With the supplier")).to_be_visible()
    phone.goto("/order-today/")
    expect(phone.get_by_text("Nothing calls for an order today")).to_be_visible()
    order = order_from("CAB")
    receive(phone, order, pieces=2)
    expect(phone.get_by_text("Still to come of it: 10.")).to_be_visible()
    # The rest of the order stands there, and the field is free for the next number.
    expect(phone.get_by_role("heading", name=f"Expected under {order}")).to_be_visible()
    expect(phone.get_by_text(f"10 of 12 to come, order {order}")).to_be_visible()
    expect(phone.get_by_label("Number of the order or of the part")).to_have_value("")
    assert on_hand("CAB-A") == COUNTED + 2
    phone.goto("/parts/")
    cable = line_of(phone, "Coil cable")
    expect(cable.locator("td", has_text=re.compile(r"^\s*3\s*$"))).to_have_count(1)
    # The supplier has no more: what is left is called off, and the list asks for it again.
    phone.goto(f"/orders/{order}/")
    phone.get_by_role("link", name="Call off", exact=True).click()
    phone.get_by_label("Pieces").fill("10")
    phone.get_by_label("Why", exact=False).fill("None left there")
    phone.get_by_role("button", name="Call them off").click()
    expect(phone.get_by_text("All here")).to_be_visible()
    phone.goto("/depots/N/stock/part/CAB-A/")
    expect(phone.get_by_text("3 on hand")).to_be_visible()
    phone.goto("/order-today/")
    phone.locator("summary", has_text="Why?").first.click()
    expect(phone.get_by_text("On hand 3, on order 0")).to_be_visible()
    other = order_from("ROL")
    receive(phone, other, pieces=other.lines.get().quantity)
    expect(phone.get_by_role("heading", name="All that is expected")).to_be_visible()
    expect(phone.get_by_text("Nothing is on its way at present.")).to_be_visible()
    assert on_hand("ROL-A") == COUNTED + other.lines.get().quantity


def receive(page: Page, order: PurchaseOrder, *, pieces: int) -> None:
    """As a hand scanner does: it types the number and ends the line."""
    page.goto("/deliveries/")
    expect(page.get_by_label("Number of the order or of the part")).to_be_focused()
    page.keyboard.type(str(order))
    page.keyboard.press("Enter")
    page.get_by_role("listitem").get_by_role("link").filter(
        has_text=order.lines.get().part.name
    ).click()
    page.get_by_label("Pieces that came").fill(str(pieces))
    page.get_by_role("button", name="Put on the shelf").click()
    expect(page.get_by_text(f"Received: {pieces} of")).to_be_visible()
