"""At the truck in a real Chromium: one visit from the first tick to the sign-off, and a driver."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from fleetdoors.models import DoorUnit, Role
from inspections.door_code import spoken
from inspections.models import DefectReport, Fault, FollowUp, Visit, VisitState
from inspections.services.labels import issue_label
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_part,
    make_reading,
    make_user,
    task,
)
from tests.truck_factories import (
    make_answer,
    make_defect_step,
    make_final_check,
    make_follow_up,
    make_hold,
    make_inspection,
    make_measurement,
    make_open_visit,
    make_trace,
    make_visit,
)

PASSWORD = "a long enough secret"
WIDER_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
# Buttons, fields and choices: what a thumb in a glove has to hit. Links inside a sentence are not.
TOO_SMALL = """() => [...document.querySelectorAll(
    "main button, main .button, main select, main textarea, main summary, main label.check, "
    + "main .control > input:not([type=file]), main .visits > li > a"
  )].filter(each => each.checkVisibility() && each.getBoundingClientRect().height < 47.5)
    .map(each => each.outerHTML.slice(0, 120))"""


@pytest.fixture
def door(live_server: object) -> DoorUnit:
    """A mounted door with a reading and a fuse that can be replaced, and somebody to do it."""
    door = make_door(serial="RD-1", depot=make_depot(code="N"))
    make_reading(door=door, counter_value=5_000)
    make_fitment(door=door, component=component("fuse"))
    make_part(part_number="FUSE-1", name="Board fuse", component=component("fuse"))
    person = make_user(role=Role.TECHNICIAN, username="kim")
    person.set_password(PASSWORD)
    person.save()
    return door


def sign_in(page: Page, onward: str) -> None:
    page.goto(onward)
    page.locator("input[name=username]").fill("kim")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(re.escape(onward)))


def test_a_visit_from_the_first_tick_to_the_sign_off(phone: Page, door: DoorUnit) -> None:
    fault = make_fault(door=door, component=component("fuse"), complaint="S1")
    sign_in(phone, reverse("visit-plan", args=[door.serial]))
    phone.get_by_role("checkbox", name="Lubrication").check()
    phone.get_by_role("button", name="Begin it now").click()
    for words in ("Brake set", "Opening clear", "Battery feed off", "Rings off"):
        phone.get_by_role("button", name=words).click()
        done = phone.locator("li", has_text=words).locator("strong", has_text="Done")
        expect(done).to_be_visible()
    visit = Visit.objects.get()
    phone.get_by_role("link", name="Final check").click()
    expect(phone.locator("fieldset")).to_have_count(5)
    for group in phone.locator("fieldset").all():
        group.get_by_role("radio", name="yes").check()
    phone.get_by_role("button", name="Save the check").click()
    expect(phone.get_by_text("Final check passed")).to_be_visible()
    phone.get_by_role("link", name="Close and sign").click()
    job = f"job-{visit.jobs.get(fault=fault).pk}"
    phone.locator(f"[name={job}-action]").select_option("replace")
    phone.locator(f"[name={job}-mechanism]").select_option("heat")
    section = phone.locator("section", has=phone.locator(f"[name={job}-action]"))
    section.get_by_text("A part was used").click()
    phone.locator(f"[name={job}-parts-0-part]").select_option(label="Board fuse (FUSE-1)")
    phone.locator(f"[name={job}-parts-0-removal]").select_option("failed")
    phone.get_by_role("button", name="Close the visit").click()
    expect(phone.get_by_text("Visit closed and signed.")).to_be_visible()
    visit.refresh_from_db()
    assert visit.state == VisitState.CLOSED
    assert Fault.objects.in_force().get().action == "replace"
    assert door.fitments.get(removal="").part.part_number == "FUSE-1"


def test_a_failed_balance_asks_for_its_task(phone: Page, door: DoorUnit) -> None:
    sign_in(phone, reverse("inspection-new", args=[door.serial]))
    phone.get_by_text("Balance and drag, by hand").click()
    phone.get_by_label("Drift at half open").fill("-200")
    phone.get_by_role("button", name="Save the inspection").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Something is past its limit")
    assert FollowUp.objects.get().task.code == "BAL"


def test_a_fault_is_found_one_question_a_screen_and_taken_back(phone: Page, door: DoorUnit) -> None:
    sign_in(phone, reverse("trace-begin", args=[door.serial]))
    phone.get_by_role("button", name="remote does not work").click()
    phone.get_by_role("button", name="Yes").click()
    phone.get_by_label("Cell, button held").fill("2.1")
    phone.get_by_label("Marked on the cell").fill("3")
    phone.get_by_role("button", name="Save", exact=True).click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Remote battery")
    phone.get_by_role("button", name="Take the last answer back").click()
    expect(phone.get_by_label("Cell, button held")).to_be_visible()
    phone.get_by_role("button", name="Cannot tell").click()
    expect(phone.get_by_role("button", name="Take the last answer back")).to_be_visible()


def test_a_driver_reports_without_an_account(phone: Page, door: DoorUnit) -> None:
    code = spoken(issue_label(door=door, issued_at=NOW).code)
    phone.goto(reverse("door-code", args=[code]))
    phone.get_by_role("radio", name="slow, or stops part-way").check()
    phone.get_by_label("Your name").fill("Robin")
    phone.get_by_role("button", name="Send the report").click()
    expect(phone.get_by_text("Thank you.")).to_be_visible()
    assert DefectReport.objects.get().complaint == "S4"


def test_a_form_is_filled_and_sent_by_keyboard_alone(desk: Page, door: DoorUnit) -> None:
    make_hold(door=door, because="not_secured")
    hold = door.road_holds.get()
    sign_in(desk, reverse("hold-lift", args=[hold.pk]))
    desk.get_by_label("What was done").focus()
    desk.keyboard.type("New latch")
    desk.keyboard.press("Enter")
    expect(desk.get_by_text("Nothing is held.")).to_be_visible()
    hold.refresh_from_db()
    assert hold.what_was_done == "New latch"


def everything_at(door: DoorUnit) -> list[str]:
    """The addresses of all pages at the truck, with something on each."""
    visit = make_open_visit(door=door)
    visit.jobs.create(kind="task", task=task("LUB"))
    visit.jobs.create(kind="fault", fault=make_fault(door=door, component=component("fuse")))
    make_final_check(visit=visit, reverses=False)
    inspection = make_inspection(door=door, visit=visit)
    make_measurement(inspection=inspection, limit_low=12.2, near_low=12.4, judgement="past")
    trace = make_trace(door=door, visit=visit)
    make_answer(trace=trace)
    step, follow_up = make_defect_step(), make_follow_up(door=door)
    planned = make_visit(door=make_door(depot=visit.depot))
    hold = make_hold(door=make_door(depot=visit.depot))
    of_door = ("visit-plan", "inspection-new", "trace-begin", "defect-new", "hold-new")
    return [
        reverse("round"),
        reverse("defect-list"),
        *(reverse(name, args=[door.serial]) for name in of_door),
        *(
            reverse(name, args=[visit.pk])
            for name in ("visit-detail", "visit-check", "visit-close", "visit-hand-over")
        ),
        reverse("visit-detail", args=[planned.pk]),
        reverse("visit-absent", args=[planned.pk]),
        reverse("inspection-detail", args=[inspection.pk]),
        reverse("trace", args=[trace.pk]),
        reverse("defect-detail", args=[step.report.pk]),
        reverse("hold-lift", args=[hold.pk]),
        reverse("follow-up-drop", args=[follow_up.pk]),
        reverse("door-code", args=[issue_label(door=door, issued_at=NOW).code]) + "?report=1",
    ]


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_every_page_has_no_barrier_no_overflow_and_room_for_a_thumb(
    request: pytest.FixtureRequest, width: str, door: DoorUnit
) -> None:
    page: Page = request.getfixturevalue(width)
    addresses = everything_at(door)
    sign_in(page, addresses[0])
    for address in addresses:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert page.evaluate(WIDER_BY) == 0, address
        assert page.evaluate(TOO_SMALL) == [], address


def test_the_label_sheet_has_no_barrier_and_scans(desk: Page, door: DoorUnit) -> None:
    sign_in(desk, reverse("labels"))
    desk.get_by_role("button", name="Make the labels").click()
    expect(desk.locator(".labels svg")).to_have_count(1)
    assert Axe().run(desk).violations_count == 0
    assert desk.evaluate(WIDER_BY) == 0
