"""The way of an order: written, placed, received on a phone, and found on the shelf."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from fleetdoors.models import Role, User
from inspections.models import OrderState, PurchaseOrder, StockBalance
from tests.factories import make_depot, make_part
from tests.stock_factories import make_line, make_placed_order, make_price, stocked

PASSWORD = "a long enough secret"
WIDER_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(autouse=True)
def _stores(live_server: object) -> None:
    """A depot with some fuses, a supplier's price, and somebody to buy more."""
    depot = make_depot(code="N")
    part = make_part(part_number="FUSE-20", name="Board fuse, 20 A")
    make_price(part=part, pack_size=10, unit_price="1.20")
    stocked(depot=depot, part=part, pieces=3)
    User.objects.create_user(username="buyer", password=PASSWORD, role=Role.BUYER)


def enter(page: Page, address: str) -> None:
    page.goto(address)
    page.locator("input[name=username]").fill("buyer")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_from_a_draft_order_to_received_stock(phone: Page) -> None:
    enter(phone, "/orders/")
    phone.get_by_role("link", name="New order").first.click()
    phone.get_by_label("Supplier").select_option(index=1)
    phone.get_by_label("Delivered to").select_option(label="Depot N")
    phone.get_by_label("Part", exact=True).select_option(label="Board fuse, 20 A (FUSE-20)")
    phone.get_by_label("Pieces").fill("12")
    phone.get_by_role("button", name="Begin the order").click()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Order")
    expect(phone.get_by_text("Being written")).to_be_visible()
    phone.get_by_role("link", name="Place the order").click()
    phone.get_by_role("button", name="It is placed").click()
    expect(phone.get_by_text("With the supplier")).to_be_visible()
    number = PurchaseOrder.objects.get().number
    phone.goto("/deliveries/")
    # What a hand scanner does: it types the code and ends the line.
    phone.get_by_label("Number of the order or of the part").fill(number)
    phone.keyboard.press("Enter")
    phone.get_by_role("link", name="Board fuse, 20 A").click()
    phone.get_by_label("Pieces that came").fill("20")
    phone.get_by_role("button", name="Put on the shelf").click()
    expect(phone.get_by_text("Received: 20 of Board fuse, 20 A")).to_be_visible()
    assert PurchaseOrder.objects.get().state == OrderState.ALL_HERE
    assert StockBalance.objects.get().on_hand == 23
    phone.goto("/depots/N/stock/part/FUSE-20/")
    expect(phone.get_by_text("23 on hand")).to_be_visible()
    expect(phone.get_by_role("link", name=f"order {number}")).to_be_visible()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_pages_of_the_stores_have_no_barrier_and_fit(
    size: str, request: pytest.FixtureRequest
) -> None:
    page: Page = request.getfixturevalue(size)
    line = make_line(order=make_placed_order())
    enter(page, "/orders/")
    for address in (
        "/orders/",
        f"/orders/{line.order.number}/",
        "/deliveries/",
        f"/deliveries/lines/{line.pk}/",
        "/transfers/",
        "/depots/N/stock/",
        "/depots/N/stock/count/",
        "/depots/N/stock/part/FUSE-20/",
        "/depots/N/stock/part/FUSE-20/move/",
        "/suppliers/",
        "/claims/new/",
    ):
        page.goto(address)
        assert page.evaluate(WIDER_BY) == 0, address
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"


def test_targets_at_the_shelf_are_large_enough_for_gloves(phone: Page) -> None:
    line = make_line(order=make_placed_order())
    enter(phone, f"/deliveries/lines/{line.pk}/")
    for control in phone.locator("main input:visible, main button:visible").all():
        box = control.bounding_box()
        assert box is not None
        assert box["height"] >= 48
