"""Every component renders from plain values, within the content security policy."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType

import django_tables2 as tables
import pytest
from django import forms
from django.dispatch import Signal
from django.http import HttpRequest, HttpResponse
from django.template.base import Template
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.test.signals import template_rendered
from django.urls import path
from django.utils.html import format_html
from pytest_django import Settings

from fleetdoors.gallery import gallery_context
from fleetdoors.templatetags.door_sign import door_sign

ROOT = Path(__file__).parents[2]
COMPONENTS = ROOT / "templates" / "components"
STATIC = ROOT / "fleetdoors" / "static" / "fleetdoors"


def nothing(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


class Elements(HTMLParser):
    """Collects every opening tag with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.found if name == tag]

    def ids(self) -> list[str]:
        return [attrs["id"] or "" for _, attrs in self.found if "id" in attrs]


class FilterForm(forms.Form):
    depot = forms.CharField(label="Depot", required=False)


class DoorTable(tables.Table):
    door = tables.Column()
    state = tables.Column()
    cycles = tables.Column(attrs={"cell": {"class": "num"}})

    class Meta:
        template_name = "components/table.html"
        row_attrs = {"class": lambda record: "held" if record["cycles"] < 0 else ""}
        empty_text = "No door is due."
        order_by = "-cycles"

    def render_state(self, value: str) -> str:
        return format_html("{} {}", door_sign(0.5, "later"), value)


@pytest.fixture(autouse=True)
def _addresses(settings: Settings) -> None:
    """The shell needs two addresses; this file must not depend on the rest of the site."""
    urls = ModuleType("urls_of_the_shell")
    urls.urlpatterns = [  # type: ignore[attr-defined]
        path("jump/", nothing, name="jump"),
        path("sign-out/", nothing, name="sign-out"),
    ]
    settings.ROOT_URLCONF = urls


@pytest.fixture
def request_() -> HttpRequest:
    return RequestFactory().get("/gallery/", {"depot": "N"})


@pytest.fixture
def gallery(request_: HttpRequest) -> str:
    return render_to_string("fleetdoors/gallery.html", gallery_context(), request=request_)


def table(rows: list[dict[str, object]], request: HttpRequest) -> str:
    made = DoorTable(rows, request=request)
    made.paginate(per_page=2)
    return render_to_string(
        "components/table.html", {"table": made, "request": request}, request=request
    )


def test_nothing_is_styled_or_scripted_inline(gallery: str) -> None:
    elements = Elements(gallery)
    assert [attrs for _, attrs in elements.found if "style" in attrs] == []
    assert elements.named("style") == []
    inline = [a for a in elements.named("script") if "src" not in a]
    assert {attrs.get("type") for attrs in inline} == {"application/json"}
    handlers = [name for _, attrs in elements.found for name in attrs if name.startswith("on")]
    assert handlers == []


def test_ids_are_unique(gallery: str) -> None:
    ids = Elements(gallery).ids()
    assert sorted(ids) == sorted(set(ids))


def test_every_sign_is_hidden_from_readers_and_beside_words(gallery: str) -> None:
    doors = [a for a in Elements(gallery).named("svg") if a.get("class") == "door"]
    assert len(doors) > 50
    assert all(attrs.get("aria-hidden") == "true" for attrs in doors)


def test_no_template_value_is_left_unresolved(gallery: str) -> None:
    assert not re.search(r"\bNone\b|\{\{|\{%", gallery)


def test_every_component_is_shown_in_the_gallery(request_: HttpRequest) -> None:
    shown: set[str] = set()

    def note(template: Template, **_more: object) -> None:
        shown.add(template.name or "")

    with connected(template_rendered, note):
        render_to_string("fleetdoors/gallery.html", gallery_context(), request=request_)
    there = {f"components/{path.name}" for path in COMPONENTS.glob("*.html")}
    # The sign of a door is drawn once for each state and then remembered.
    assert there - shown - {"components/door_sign.html"} == set()


@contextmanager
def connected(signal: Signal, receiver: Callable[..., None]) -> Iterator[None]:
    signal.connect(receiver)
    try:
        yield
    finally:
        signal.disconnect(receiver)


def test_colours_are_named_in_the_tokens_alone() -> None:
    css = (STATIC / "app.css").read_text()
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;, )])", css) == []
    used = set(re.findall(r"var\((--[a-z0-9-]+)", css))
    defined = set(re.findall(r"(--[a-z0-9-]+):", (STATIC / "tokens.css").read_text() + css))
    assert used <= defined


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_the_contrast_of_wcag_aa(scheme: str) -> None:
    # Ratio and the floors 4.5 and 3: WCAG 2.2, success criteria 1.4.3 and 1.4.11.
    tokens = _tokens(scheme)
    text = [
        (ink, on) for ink in ("ink", "ink-soft", "accent") for on in ("ground", "surface", "sunk")
    ]
    text += [("ink", "accent-wash"), ("ink-soft", "accent-wash"), ("on-accent", "accent")]
    text += [("on-lintel", "lintel"), ("on-lintel-soft", "lintel")]
    text += [(f"on-{word}", word) for word in ("warning", "caution", "notice")]
    shapes = [(f"slat-{tone}", "surface") for tone in ("open", "half", "shut")]
    shapes += [("line-strong", "surface"), ("line-strong", "ground"), ("slat-half", "ground")]
    low = {pair: _contrast(tokens, pair) for pair in text if _contrast(tokens, pair) < 4.5}
    low |= {pair: _contrast(tokens, pair) for pair in shapes if _contrast(tokens, pair) < 3}
    assert low == {}


def test_contrast_is_reckoned_as_the_standard_does() -> None:
    # WCAG 2.2, definition of contrast ratio: 21 to 1 for black on white.
    # 4.54 for #767676 on white is the figure commonly given (recalled).
    assert _contrast({"a": "#000000", "b": "#ffffff"}, ("a", "b")) == pytest.approx(21)
    assert _contrast({"a": "#767676", "b": "#ffffff"}, ("a", "b")) == pytest.approx(4.54, abs=0.01)


def test_a_listing_shows_its_order_and_labels(request_: HttpRequest) -> None:
    rows = [{"door": f"D-{n}", "state": "due", "cycles": n} for n in range(5)]
    html = table(rows, request_)
    elements = Elements(html)
    assert [th.get("aria-sort") for th in elements.named("th")] == ["none", "none", "descending"]
    assert [td["data-label"] for td in elements.named("td")] == ["Door", "State", "Cycles"] * 2
    assert [td.get("class") for td in elements.named("td")[:3]] == [None, None, "num"]
    assert "D-4" in html
    assert "D-2" not in html
    links = [a["href"] or "" for a in elements.named("a")]
    assert all("depot=N" in link for link in links)
    assert any("page=2" in link for link in links)


def test_a_listing_escapes_what_people_typed(request_: HttpRequest) -> None:
    html = table([{"door": "<script>x</script>", "state": "a & b", "cycles": -1}], request_)
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    assert "a &amp; b" in html
    assert '<tr class="held">' in html


def test_an_empty_listing_is_a_sentence(request_: HttpRequest) -> None:
    html = table([], request_)
    assert "No door is due." in html
    assert "<table" not in html


@pytest.mark.parametrize("size", [19, 161])
def test_a_sign_too_small_or_too_large_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="20 to 160 pixels"):
        door_sign(0.5, "later", size)


@pytest.mark.parametrize("name", ["403.html", "404.html", "500.html"])
def test_error_pages_say_what_to_do(name: str, request_: HttpRequest) -> None:
    html = render_to_string(name, {}, request=request_)
    assert len(Elements(html).named("h1")) == 1
    assert 'href="/"' in html


def test_an_error_page_renders_without_any_context() -> None:
    assert "Something broke" in render_to_string("500.html")


def test_the_entrance_names_the_people_of_a_demo(request_: HttpRequest) -> None:
    people = [{"name": "planner", "password": "p", "does": "asks what is due"}]
    shown = render_to_string(
        "registration/login.html", {"form": FilterForm(), "demo_people": people}, request=request_
    )
    plain = render_to_string("registration/login.html", {"form": FilterForm()}, request=request_)
    assert "asks what is due" in shown
    assert "demo" not in plain.lower().replace("demo-", "")


def _tokens(scheme: str) -> dict[str, str]:
    light, dark = (STATIC / "tokens.css").read_text().split("@media")
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", light))
    return found if scheme == "light" else found | dict(re.findall(r"--([\w-]+): (#\w+);", dark))


def _contrast(tokens: dict[str, str], pair: tuple[str, str]) -> float:
    dim, bright = sorted(_luminance(tokens[name]) for name in pair)
    return (bright + 0.05) / (dim + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
