"""Every page with an object of its own: each is on the contact sheet, and none costs too much."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from analytics.forms.announced import FORMS
from fleetdoors.models import Role, User
from tests.access_factories import make_depot_world, make_shared_objects
from tests.factories import make_user
from tests.pages.planner_rows import make_run
from tests.sheet.pages import NOT_PAGES, Weighed, all_weighed, samples, weighed
from tests.test_access import KEY_NAMES, KIND_OF, OF_ONE_PERSON
from tests.test_architecture import OURS

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
MOST_QUERIES = 60
MOST_KILOBYTES = 150
# Scripts and style sheets of the shell, and those that one page brings; pictures come beside them.
MOST_FILES = 12
FILE = re.compile(r"""<(?:script|link)\b[^>]*\b(?:src|href)=["']([^"']+\.(?:js|css))""")


@pytest.fixture
def world() -> None:
    """An object of every kind that an address can name, at one depot."""
    make_depot_world(mark="LIMA", run=make_run())
    make_shared_objects()


@pytest.fixture
def clients() -> dict[str | None, Client]:
    """Somebody of each role, and nobody."""
    found: dict[str | None, Client] = {None: Client()}
    for role in Role.values:
        found[role] = Client()
        person: User = make_user(role=Role(role), is_superuser=role == Role.ADMINISTRATOR)
        found[role].force_login(person)
    return found


@pytest.fixture
def pages(world: None, clients: dict[str | None, Client]) -> list[Weighed]:
    found, _without = all_weighed(clients.__getitem__)
    return found


def test_no_route_is_left_off_the_sheet(world: None) -> None:
    found, without = samples()
    names = {sample.name for sample in found}
    assert names | set(without) | NOT_PAGES == {str(route.name) for route in OURS}
    # The factories make everything but what only its owner may see.
    assert {KIND_OF[name] for name in without} <= OF_ONE_PERSON
    assert set(without) <= set(KEY_NAMES["upload"])
    shown = [sample.url for sample in found if sample.name == "announced-new"]
    assert shown == [reverse("announced-new", kwargs={"kind": kind}) for kind in FORMS]


def test_every_page_opens_for_whom_the_sheet_shows_it(
    world: None, clients: dict[str | None, Client]
) -> None:
    found, _without = samples()
    refused = [
        (sample.name, answer.status_code)
        for sample in found
        if (answer := clients[sample.person].get(sample.url)).status_code in (403, 404, 500)
    ]
    # A plan in the making belongs to whoever asked for it.
    assert refused == [("schedule-progress", 404)]


def test_a_page_costs_no_more_than_it_may(pages: list[Weighed]) -> None:
    assert len(pages) > 90
    heavy = [page for page in pages if page.kilobytes > MOST_KILOBYTES]
    asking = [page for page in pages if page.queries > MOST_QUERIES]
    assert heavy == []
    assert asking == []


def test_a_page_brings_few_files_and_never_the_chart_library_at_once(
    pages: list[Weighed], clients: dict[str | None, Client]
) -> None:
    for page in pages:
        shown = clients[page.person].get(page.url).content.decode()
        files = FILE.findall(shown)
        assert len(files) <= MOST_FILES, (page.name, files)
        assert [name for name in files if "plotly" in name] == [], page.name
        assert page.has_chart == ("plotly" in shown), page.name


def test_what_a_technician_opens_on_the_round_has_no_chart(pages: list[Weighed]) -> None:
    rounds = [page for page in pages if page.name.startswith(("round", "visit-", "trace"))]
    assert len(rounds) > 10
    assert [page.name for page in rounds if page.has_chart] == []


def test_what_is_no_page_is_left_out(world: None, clients: dict[str | None, Client]) -> None:
    found = {sample.name: sample for sample in samples()[0]}
    assert weighed(found["due-csv"], clients[Role.PLANNER]) is None
    assert weighed(found["schedule-propose"], clients[Role.PLANNER]) is None
