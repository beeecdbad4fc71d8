"""The planner's path in a real browser: propose, move by hand and by keys, accept."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from analytics.models import DueTask, ProposedVisit
from fleetdoors.models import Depot, Role
from inspections.models import Visit, VisitState
from tests.factories import make_depot, make_user
from tests.pages.planner_rows import make_run
from tests.schedule_factories import make_due_door

PASSWORD = "a long enough secret"
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def depot(live_server: object) -> Depot:
    """Three trucks with a task due in two days, and somebody who plans."""
    north = make_depot(code="NORTH")
    run = make_run(as_of=timezone.now())
    for number in ("1", "2", "3"):
        make_due_door(run=run, depot=north, number=number, due={"LUB": 0})
    today = timezone.localdate()
    DueTask.objects.update(due_on=today + timedelta(days=2), last_done_on=today - timedelta(60))
    planner = make_user(role=Role.PLANNER, username="planner")
    planner.set_password(PASSWORD)
    planner.save()
    return north


def sign_in(page: Page) -> None:
    page.goto("/schedule/")
    page.locator("input[name=username]").fill("planner")
    page.locator("input[name=password]").fill(PASSWORD)
    page.locator("input[name=password]").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "Which truck comes in on which night?"
    )


def night_of(number: str) -> date | None:
    return ProposedVisit.objects.get(
        truck__fleet_number=f"T-{number}", proposal__closed_at__isnull=True
    ).night_on


def card(page: Page, number: str):  # type: ignore[no-untyped-def]
    return page.get_by_role("article", name=f"Truck T-{number}")


def test_a_plan_is_proposed_moved_and_accepted(depot: Depot, desk: Page) -> None:
    sign_in(desk)
    desk.get_by_role("button", name="Propose a plan").click()
    expect(desk.get_by_text("A quick plan")).to_be_visible()
    first = night_of("1")
    assert first is not None
    by_mouse, by_keys = first + timedelta(days=2), first + timedelta(days=1)

    card(desk, "1").drag_to(desk.locator(f"#night-{by_mouse} .night-opening"))
    expect(desk.get_by_text("is kept there by every new plan")).to_be_visible()
    assert night_of("1") == by_mouse

    card(desk, "2").focus()
    with desk.expect_navigation():
        desk.keyboard.press("Shift+ArrowRight")
    assert night_of("2") == by_keys
    expect(card(desk, "2")).to_be_focused()

    report = Axe().run(desk)
    assert report.response["violations"] == [], report.generate_report()

    desk.get_by_role("button", name="Accept this plan").click()
    expect(desk.get_by_text("Accepted: 3 visits changed.")).to_be_visible()
    planned = Visit.objects.filter(state=VisitState.PLANNED).order_by("truck__fleet_number")
    assert [visit.planned_on for visit in planned] == [by_mouse, by_keys, first]
    desk.get_by_role("button", name="Take it back").click()
    expect(desk.get_by_text("3 visits are as before")).to_be_visible()
    assert not Visit.objects.filter(state=VisitState.PLANNED).exists()


def test_a_visit_is_moved_from_a_list_on_a_phone(depot: Depot, phone: Page) -> None:
    sign_in(phone)
    phone.get_by_role("button", name="Propose a plan").click()
    first = night_of("1")
    assert first is not None
    there = card(phone, "1")
    there.get_by_text("Move", exact=False).first.click()
    there.get_by_role("combobox").select_option((first + timedelta(days=1)).isoformat())
    there.get_by_role("button", name="Move").click()
    expect(phone.get_by_text("is kept there by every new plan")).to_be_visible()
    assert night_of("1") == first + timedelta(days=1)
    narrow = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert phone.evaluate(narrow) == 0
