"""The sheet of a visit as a printer gets it: A4 and Letter, black on white, numbered pages."""

from __future__ import annotations

import io
import re
from unicodedata import normalize

import pytest
from django.urls import reverse
from playwright.sync_api import Page
from pypdf import PdfReader

from fleetdoors.models import Role
from inspections.models import InspectionKind, Visit
from tests.factories import NOW, component, make_fault, make_reading, make_user, task
from tests.truck_factories import (
    make_final_check,
    make_follow_up,
    make_inspection,
    make_measurement,
    make_open_visit,
    make_tick,
)

PASSWORD = "a long enough secret"
# Width and height in points of 1/72 inch: ISO 216 A4 is 210 mm by 297 mm, Letter 8.5 in by 11 in.
PAPER = {"A4": (595, 842), "Letter": (612, 792)}
COLOURED = """() => [...document.querySelectorAll("main, main *")]
  .filter(each => each.checkVisibility())
  .flatMap(each => {
    const style = getComputedStyle(each);
    return [style.color, style.backgroundColor, style.borderTopColor, style.borderBottomColor]
      .filter(colour => {
        const [red, green, blue] = colour.match(/[0-9.]+/g).map(Number);
        return red !== green || green !== blue;
      }).map(colour => `${each.tagName}.${each.className} ${colour}`);
  })"""


@pytest.fixture
def visit(live_server: object) -> Visit:
    """A visit with something of everything that a sheet can hold."""
    kim = make_user(role=Role.TECHNICIAN, username="kim")
    kim.set_password(PASSWORD)
    kim.save()
    visit = make_open_visit(technician=kim)
    make_reading(door=visit.door, counter_value=41_872)
    for code in ("LUB", "LFT", "COI", "REL", "BAL", "SEN", "ELE"):
        visit.jobs.create(kind="task", task=task(code))
    fault = make_fault(door=visit.door, component=component("spring"), complaint="S8")
    make_fault(door=visit.door, component=component("spring"), found_at=NOW.replace(day=1))
    visit.jobs.create(kind="fault", fault=fault)
    visit.jobs.create(kind="follow_up", follow_up=make_follow_up(door=visit.door))
    make_tick(visit=visit, tick="tools", reason="no gloves that fit")
    make_measurement(
        inspection=make_inspection(door=visit.door, kind=InspectionKind.COMMISSIONING),
        quantity="travel_open_seconds",
        value=10.0,
    )
    make_final_check(visit=visit, reverses=False)
    return visit


def opened(page: Page, visit: Visit) -> Page:
    address = reverse("visit-sheet", args=[visit.pk])
    page.goto(address)
    page.locator("input[name=username]").fill("kim")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(re.escape(address)))
    return page


@pytest.mark.parametrize("paper", PAPER)
def test_the_sheet_prints_whole_on_either_paper(desk: Page, visit: Visit, paper: str) -> None:
    printed = PdfReader(io.BytesIO(opened(desk, visit).pdf(format=paper)))
    pages = [page.extract_text() for page in printed.pages]
    assert 2 <= len(pages) <= 5
    for number, (page, text) in enumerate(zip(printed.pages, pages, strict=True), start=1):
        box = page.mediabox
        assert (round(box.width), round(box.height)) == pytest.approx(PAPER[paper], abs=1)
        assert re.search(rf"\b{number} / {len(pages)}\b", text), text[-200:]
    # A font joins f and i to one sign.
    whole = " ".join(normalize("NFKC", " ".join(pages)).split())
    for words in (
        "Lubrication",
        "Balance past its limit",
        "no gloves that fit",
        "WARNING",
        "31.0 to 33.0",
        "Drift at half open",
        "Again within 30 days",
        "goes back from a 25 mm block",
        "Work done by",
        "41,872",
    ):
        assert words.lower() in whole.lower(), words
    # What only a screen can do is not on paper.
    assert "Back to the visit" not in whole
    assert "Sign out" not in whole


def test_the_sheet_needs_no_colour_and_runs_over_no_edge(desk: Page, visit: Visit) -> None:
    page = opened(desk, visit)
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate(COLOURED) == []
    page.set_viewport_size({"width": 688, "height": 1000})
    wider = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert wider <= 0
