"""The planner's and everybody's main paths in a real browser, at a phone's and a desk's width."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from analytics.recompute import recompute_fleet
from fleetdoors.models import DoorUnit, Role
from tests.factories import (
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_readings,
    make_task_done,
    make_truck,
    make_user,
    task,
)

PASSWORD = "a long enough secret"
NARROW_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LONG = "A/ 1 " + "x" * 75


@pytest.fixture
def fleet(live_server: object) -> DoorUnit:
    """Two doors with a record, one with the longest names there can be, and their figures."""
    now = timezone.now()
    depot = make_depot(code="NORTH")
    for number, serial in enumerate(("D-17", LONG)):
        truck = make_truck(fleet_number=("2104", "T" * 60)[number], depot=depot)
        door = make_door(serial=serial, truck=truck, record_from=(now - timedelta(days=182)).date())
        values = range(100, 100 + 26 * 350, 350)
        make_readings(door=door, values=values, first_at=now - timedelta(days=178))
        make_task_done(door=door, task=task("LUB"), done_at=now - timedelta(days=100 - 60 * number))
        make_fault(door=door, found_at=now - timedelta(days=9), component=component("coil_cable"))
        make_fitment(door=door, component=component("spring"), position="left")
    recompute_fleet(as_of=now, started_at=now)
    return DoorUnit.objects.get(serial="D-17")


@pytest.fixture(params=["phone", "desk"])
def page(request: pytest.FixtureRequest, fleet: DoorUnit) -> Iterator[Page]:
    """A planner signed in, at one of the two widths."""
    opened: Page = request.getfixturevalue(request.param)
    planner = make_user(role=Role.PLANNER, username="planner")
    planner.set_password(PASSWORD)
    planner.save()
    opened.goto("/sign-in/")
    opened.locator("input[name=username]").fill("planner")
    opened.locator("input[type=password]").fill(PASSWORD)
    opened.locator("main button[type=submit]").first.click()
    opened.wait_for_url("**/")
    return opened


PAGES = ("/", "/due/", "/due/?state=late", "/doors/", "/doors/D-17/", "/due/D-17/LUB/", "/settle/")


def test_no_page_is_wider_than_the_screen_or_has_a_barrier(page: Page) -> None:
    for address in PAGES:
        page.goto(address)
        expect(page.locator("h1")).to_have_count(1)
        assert page.evaluate(NARROW_BY) == 0, address
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"


def test_from_today_to_the_evidence_of_a_late_task(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="All that is late").click()
    expect(page).to_have_url("http://" + page.url.split("/")[2] + "/due/?state=late")
    page.get_by_role("link", name="Why? Lubrication 2104").click()
    expect(page.locator("h1")).to_have_text("Why this date for Lubrication?")
    expect(page.locator(".formula").first).to_contain_text("last done + interval × factors")


def test_the_due_list_is_filtered_with_the_keyboard_and_keeps_it_in_the_address(
    page: Page,
) -> None:
    page.goto("/due/")
    box = page.locator(".filter-bar").get_by_label("Truck or door")
    box.focus()
    page.keyboard.type("2104")
    page.keyboard.press("Enter")
    page.wait_for_url("**search=2104**")
    expect(page.locator("table tbody tr").first).to_contain_text("2104")
    expect(page.locator("main")).not_to_contain_text("T" * 60)
    page.get_by_role("link", name="Show all").click()
    expect(page.locator("main")).to_contain_text("T" * 60)


def test_a_counter_lower_than_before_is_kept_asked_about_and_settled(page: Page) -> None:
    page.goto("/doors/D-17/")
    page.get_by_role("link", name="Log a reading").click()
    page.locator("input[name=counter_value]").fill("8100")
    page.get_by_role("button", name="Save the reading").click()
    expect(page.locator("h1")).to_have_text("8100 is on record")
    answer = page.locator("[hx-get*='/answer/']")
    expect(answer).to_contain_text("Expected was")
    answer.get_by_role("button", name="It does show 8100").click()
    expect(page.locator(".facts").first).not_to_contain_text("held")
    page.goto("/settle/")
    expect(page.locator("main")).to_contain_text("Nothing to settle")


def test_all_figures_are_computed_anew(page: Page) -> None:
    page.goto("/")
    page.get_by_role("button", name="Compute anew").click()
    expect(page.locator("#recompute")).to_contain_text("Every due date", timeout=30_000)
