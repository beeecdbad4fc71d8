"""The look in a real browser: every component at both widths, in both schemes, and its scripts."""

from types import ModuleType, SimpleNamespace

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from playwright.sync_api import Browser, Page, expect
from pytest_django.fixtures import Settings

from fleetdoors.gallery import gallery_context

PLANNER = SimpleNamespace(
    is_authenticated=True, get_username=lambda: "planner", get_full_name=lambda: ""
)
NARROW_BY = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def gallery(request: HttpRequest) -> HttpResponse:
    return render(request, "fleetdoors/gallery.html", gallery_context() | {"user": PLANNER})


def nothing(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


@pytest.fixture(autouse=True)
def _addresses(settings: Settings, live_server: object) -> None:
    """The gallery with a person signed in, and no other page."""
    urls = ModuleType("urls_of_the_gallery")
    urls.urlpatterns = [  # type: ignore[attr-defined]
        path("gallery/", gallery),
        path("jump/", nothing, name="jump"),
        path("sign-out/", nothing, name="sign-out"),
    ]
    settings.ROOT_URLCONF = urls


@pytest.fixture(params=["phone", "desk"])
def page(request: pytest.FixtureRequest) -> Page:
    """The gallery at one of the two widths."""
    opened: Page = request.getfixturevalue(request.param)
    opened.goto("/gallery/")
    return opened


def draw_chart(page: Page) -> None:
    page.locator(".chart").scroll_into_view_if_needed()
    page.wait_for_selector("[data-drawn]")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_gallery_has_no_barrier_that_axe_finds(page: Page, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    draw_chart(page)
    found = Axe().run(page)
    assert len(found.response["passes"]) > 30
    assert found.violations_count == 0, found.generate_report()


def test_nothing_is_wider_than_the_screen(page: Page) -> None:
    draw_chart(page)
    assert page.evaluate(NARROW_BY) == 0


def test_the_chart_library_waits_until_a_chart_is_seen(page: Page) -> None:
    assert page.evaluate("typeof window.Plotly") == "undefined"
    expect(page.locator(".chart-wait")).to_have_count(1)
    draw_chart(page)
    assert page.evaluate("typeof window.Plotly") == "object"
    drawn = page.locator(".chart-plot").bounding_box()
    picture = page.locator(".chart-plot .main-svg").first.bounding_box()
    assert drawn is not None
    assert picture is not None
    assert picture["width"] == pytest.approx(drawn["width"], abs=2)
    assert picture["height"] == pytest.approx(drawn["height"], abs=6)


def test_a_drawn_chart_follows_the_scheme(desk: Page) -> None:
    desk.goto("/gallery/")
    draw_chart(desk)
    light = text_colour(desk)
    desk.emulate_media(color_scheme="dark")
    desk.wait_for_selector('[data-scheme="dark"]')
    assert text_colour(desk) != light


def text_colour(page: Page) -> str:
    colour: str = page.evaluate("document.querySelector('.chart-plot').layout.font.color")
    return colour


def test_without_the_library_the_numbers_open(browser: Browser, live_server) -> None:  # type: ignore[no-untyped-def]
    with browser.new_context(base_url=live_server.url) as context:
        page = context.new_page()
        page.route("**/plotly.min.js", lambda route: route.abort())
        page.goto("/gallery/")
        page.locator(".chart").scroll_into_view_if_needed()
        expect(page.locator(".chart details")).to_have_attribute("open", "")
        expect(page.locator(".chart-wait")).to_contain_text("could not be loaded")


def test_a_slash_goes_to_the_jump_box_but_not_while_typing(desk: Page) -> None:
    desk.goto("/gallery/")
    note = desk.get_by_label("What you saw")
    note.focus()
    desk.keyboard.type("1/2")
    expect(note).to_have_value("1/2")
    note.blur()
    desk.keyboard.press("/")
    jump = desk.get_by_role("searchbox", name="Go to a truck or door")
    expect(jump).to_be_focused()
    expect(jump).to_have_value("")


def test_errors_are_what_the_reader_meets_first(desk: Page) -> None:
    desk.goto("/gallery/")
    expect(desk.locator("[data-focus]")).to_be_focused()


def test_without_scripts_the_way_past_the_header_is_the_first_stop(
    browser: Browser,
    live_server,  # type: ignore[no-untyped-def]
) -> None:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/gallery/")
        page.keyboard.press("Tab")
        skip = page.get_by_role("link", name="Skip to the answer")
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport()


def test_fingers_in_gloves_find_their_targets(phone: Page) -> None:
    phone.goto("/gallery/")
    targets = phone.locator(".hands input[type=text], .hands .check, .hands .control label")
    heights = [box["height"] for box in (t.bounding_box() for t in targets.all()) if box]
    assert len(heights) == 4
    assert min(heights) >= 48


def test_paper_has_no_navigation_and_opens_the_numbers(desk: Page) -> None:
    desk.goto("/gallery/")
    desk.emulate_media(media="print")
    expect(desk.locator(".lintel")).to_be_hidden()
    expect(desk.locator("h1")).to_be_visible()
    desk.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    expect(desk.locator(".life .numbers table")).to_be_visible()


def test_an_answer_that_fails_is_said_in_words(browser: Browser, live_server) -> None:  # type: ignore[no-untyped-def]
    with browser.new_context(base_url=live_server.url) as context:
        page = context.new_page()
        page.goto("/gallery/")
        expect(page.locator("#connection-note")).to_be_hidden()
        page.evaluate("htmx.ajax('GET', '/nowhere/', {target: '#content', swap: 'none'})")
        expect(page.locator("#connection-note")).to_be_visible()
        page.evaluate("htmx.ajax('GET', '/jump/', {target: '#content', swap: 'none'})")
        expect(page.locator("#connection-note")).to_be_hidden()
