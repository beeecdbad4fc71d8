"""The walk over every route: each is named, guarded, tested, and a page says what it is."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from fleetdoors.models import User
from tests.source import APPS, ROOT, tracked_files

# Django's own views: its admin guards itself, and these two are the way in and out.
DJANGOS_OWN = {"sign-in", "sign-out", "language"}
DJANGOS_NAMESPACES = {"admin"}
# The interface for other systems has its own walk, in tests/pages/test_api.py.
WALKED_ELSEWHERE = {"api"}
# What stands in for a key in an address: nothing with such a key is in an empty database.
ABSENT = {"int": 987_654, "slug": "absent", "str": "ABSENT", "path": "ABSENT", "uuid": "0" * 32}
OK, MOVED, MOVED_FOR_GOOD, FORBIDDEN, NOT_FOUND, WRONG_METHOD = 200, 302, 301, 403, 404, 405
WORDMARK = "fleetdoors"


@dataclass(frozen=True)
class Route:
    """One address of the program."""

    address: str
    name: str | None
    view: Any
    arguments: dict[str, Any]

    def __str__(self) -> str:
        return self.name or self.address

    def url(self) -> str:
        """The address, with the key of nothing that exists."""
        return reverse(str(self.name), kwargs=self.arguments)


def routes(resolver: URLResolver, before: str = "") -> Iterator[Route]:
    """Every route that is ours to answer for."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            if entry.namespace not in DJANGOS_NAMESPACES | WALKED_ELSEWHERE:
                yield from routes(entry, before + str(entry.pattern))
        elif isinstance(entry, URLPattern):
            arguments = {
                key: ABSENT.get(type(converter).__name__.removesuffix("Converter").lower(), "A1")
                for key, converter in entry.pattern.converters.items()
            }
            yield Route(before + str(entry.pattern), entry.name, entry.callback, arguments)


ROUTES = tuple(routes(get_resolver()))
OURS = tuple(route for route in ROUTES if route.name not in DJANGOS_OWN)
GUARDED = tuple(route for route in OURS if getattr(route.view, "access_rule", ()) != ("strangers",))
WITHOUT_KEY = tuple(route for route in ROUTES if not route.arguments)
WITH_KEY = tuple(route for route in ROUTES if route.arguments)


class Titles(HTMLParser):
    """Collects what stands in the title of a page, and its main headings; a picture has its own."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, list[str]] = {"title": [], "h1": []}
        self.within: str | None = None
        self.pictures = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.pictures += tag == "svg"
        if tag in self.found and not self.pictures:
            self.within = tag
            self.found[tag].append("")

    def handle_endtag(self, tag: str) -> None:
        self.pictures -= tag == "svg"
        if tag == self.within:
            self.within = None

    def handle_data(self, data: str) -> None:
        if self.within:
            self.found[self.within][-1] += data


@pytest.fixture
def everyones_key(client: Client, db: None) -> Client:
    """A superuser's browser, and a database in which nothing but the reference data stands."""
    client.force_login(User.objects.create_superuser("root", password="a long enough secret"))
    return client


def test_there_are_routes_to_walk() -> None:
    assert {"health", *DJANGOS_OWN} <= {route.name for route in ROUTES}
    assert OURS


def test_every_route_is_named_once() -> None:
    names = [route.name for route in ROUTES]
    assert [route.address for route in ROUTES if not route.name] == []
    assert sorted(name for name in set(names) if names.count(name) > 1) == []


def test_every_view_is_ours_and_says_who_may_open_it() -> None:
    unguarded = [route for route in OURS if not getattr(route.view, "access_rule", None)]
    assert [str(route) for route in unguarded] == []
    foreign = [route for route in OURS if route.view.__module__.partition(".")[0] not in APPS]
    assert [str(route) for route in foreign] == []


@pytest.mark.django_db
@pytest.mark.parametrize("route", GUARDED, ids=str)
def test_a_stranger_is_sent_to_sign_in(client: Client, route: Route) -> None:
    answer = client.get(route.url())
    if answer.status_code == WRONG_METHOD:
        answer = client.post(route.url())
    assert answer.status_code in (MOVED, FORBIDDEN)
    if answer.status_code == MOVED:
        assert answer["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize("route", WITHOUT_KEY, ids=str)
def test_every_page_opens_on_an_empty_database_and_has_a_title(
    everyones_key: Client, route: Route
) -> None:
    answer = everyones_key.get(route.url())
    assert answer.status_code in (OK, MOVED, MOVED_FOR_GOOD, WRONG_METHOD)
    if answer.status_code != OK or not answer["Content-Type"].startswith("text/html"):
        return
    text = answer.content.decode()
    if not text.lstrip().lower().startswith("<!doctype"):
        # A fragment for a page that is open already; its file says so.
        assert answer.templates[0].name.rpartition("/")[2].startswith("_")
        return
    page = Titles()
    page.feed(text)
    assert len(page.found["title"]) == 1
    said = page.found["title"][0].replace(WORDMARK, "").strip(" ·\n")
    assert said, "the title names the program only, not the page"
    assert len(page.found["h1"]) == 1


@pytest.mark.parametrize("route", WITH_KEY, ids=str)
def test_a_key_that_nothing_has_is_not_found(everyones_key: Client, route: Route) -> None:
    answer = everyones_key.get(route.url())
    if answer.status_code == WRONG_METHOD:
        answer = everyones_key.post(route.url())
    assert answer.status_code == NOT_FOUND


@pytest.mark.parametrize("route", OURS, ids=str)
def test_every_route_is_named_in_a_test(route: Route) -> None:
    here = ROOT / "tests" / "test_architecture.py"
    tests = [path for path in tracked_files() if path.is_relative_to(ROOT / "tests")]
    written = "\n".join(path.read_text() for path in tests if path.suffix == ".py" and path != here)
    # By its name, or by its address up to the first key.
    address = re.escape("/" + route.address.partition("<")[0])
    named = rf"""["']{re.escape(str(route.name))}["']"""
    begun = rf"""["']{address}["'{{?]""" if len(address) > 1 else named
    assert re.search(f"{named}|{begun}", written), f"no test opens {route} ({route.address})"
