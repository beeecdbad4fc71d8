"""The buyer's way: what runs out, what to order, why, and how long the part lasts."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from fleetdoors.models import Role, User
from tests.factories import NOW, component, make_depot, make_part, make_stock_count
from tests.pages.running_fleet import compute, make_wearing_fleet

PASSWORD = "a long enough secret"
WIDER_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(autouse=True)
def _fleet(live_server: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty doors whose coil cables wear out, two on the shelf, and somebody to buy them."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    depot = make_depot(code="N")
    part = make_part(
        part_number="CAB-A",
        name="Coil cable, 5 m",
        component=component("coil_cable"),
        unit_cost=Decimal("118"),
    )
    make_wearing_fleet(doors=30, depot=depot, part=part)
    make_part(part_number="N" * 80, name="Part with a name of eighty signs " * 3)
    make_stock_count(depot=depot, part=part, counted_at=NOW - timedelta(days=3), on_hand=2)
    compute()
    User.objects.create_user(username="buyer", password=PASSWORD, role=Role.BUYER)


@pytest.fixture(params=["phone", "desk"])
def page(request: pytest.FixtureRequest) -> Page:
    """The buyer, signed in, at one of the two widths."""
    opened: Page = request.getfixturevalue(request.param)
    opened.goto("/parts/")
    opened.locator("input[name=username]").fill("buyer")
    opened.locator("input[name=password]").fill(PASSWORD)
    opened.get_by_role("button", name="Sign in").click()
    expect(opened.get_by_role("heading", level=1)).to_have_text("What will run out, and when?")
    return opened


def draw_charts(page: Page) -> None:
    """Bring every chart into view until it is drawn."""
    for chart in page.locator(".chart:visible").all():
        chart.scroll_into_view_if_needed()
        chart.locator("[data-drawn]").wait_for()


def test_a_buyer_finds_what_to_order_and_why(page: Page) -> None:
    page.get_by_label("Only what to order").check()
    page.get_by_role("button", name="Show").click()
    expect(page).to_have_url(re.compile("to_order=on"))
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(1)
    rows.get_by_role("link", name="Coil cable, 5 m").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Coil cable, 5 m")
    expect(page.get_by_text("position = 2 on hand")).to_be_visible()
    expect(page.get_by_text("Fill rate", exact=True)).to_be_visible()
    draw_charts(page)
    page.get_by_role("link", name="How long it lasts").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How long does it last: Coil cable")
    page.get_by_label("A planned change costs").fill("100")
    page.get_by_label("A failure costs").fill("800")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("Advised.", exact=False)).to_be_visible()


def test_the_probability_plot_is_drawn_once_it_is_asked_for(page: Page) -> None:
    page.goto("/reliability/coil_cable/")
    plot = page.locator('[data-chart="probability-plot-figure"]')
    expect(plot).to_be_hidden()
    page.get_by_text("Show the probability plot").click()
    plot.locator("[data-drawn]").wait_for()


@pytest.mark.parametrize(
    "url", ["/parts/", "/parts/CAB-A/", "/reliability/", "/reliability/coil_cable/"]
)
def test_pages_have_no_barrier_and_fit_the_screen(page: Page, url: str) -> None:
    page.goto(url)
    draw_charts(page)
    assert page.evaluate(WIDER_BY) == 0
    found = Axe().run(page)
    assert len(found.response["passes"]) > 20
    assert found.violations_count == 0, found.generate_report()


def test_groups_open_their_why(page: Page) -> None:
    page.goto("/reliability/?by=depot")
    page.locator(".intervals-why summary").first.click()
    expect(page.get_by_text("Cycles on record", exact=True)).to_be_visible()
    expect(page.locator(".intervals-why .formula")).to_contain_text("χ²")
