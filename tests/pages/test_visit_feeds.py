"""Visits in calendars: an address shown once, read by its holder, closed by a planner."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import Role
from tests.desk_factories import make_calendar
from tests.factories import NOW, make_depot, make_door, make_truck
from tests.pages.conftest import SignIn
from tests.truck_factories import make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
OK, NOT_FOUND = 200, 404


def test_a_planner_makes_an_address_that_shows_the_depots_visits(sign_in: SignIn) -> None:
    depot = make_depot(code="NORTH")
    door = make_door(truck=make_truck(fleet_number="T17", depot=depot))
    make_visit(door=door)
    make_visit(door=make_door(truck=make_truck(fleet_number="T99")))
    shown = sign_in().post(reverse("visit-feeds"), {"depot": depot.pk, "label": "Yard"})
    address = re.search(r"/calendars/[\w-]{43}\.ics", shown.content.decode())
    assert address is not None
    answer = Client().get(address.group())
    assert answer["Content-Type"].startswith("text/calendar")
    assert "T17" in answer.content.decode()
    assert "T99" not in answer.content.decode()


def test_a_closed_address_and_a_guess_show_nothing(sign_in: SignIn) -> None:
    made = make_calendar()
    url = reverse("visit-calendar", args=[made.secret])
    assert Client().get(url).status_code == OK
    sign_in().post(reverse("visit-feed-end", args=[made.feed.pk]))
    assert Client().get(url).status_code == NOT_FOUND
    assert Client().get(reverse("visit-calendar", args=["x" * 43])).status_code == NOT_FOUND


def test_another_depots_planner_neither_sees_nor_closes_it(sign_in: SignIn) -> None:
    made = make_calendar(label="The north yard")
    client = sign_in(Role.PLANNER, [make_depot()])
    assert "The north yard" not in client.get(reverse("visit-feeds")).content.decode()
    assert client.post(reverse("visit-feed-end", args=[made.feed.pk])).status_code == NOT_FOUND


def test_an_address_without_a_name_is_refused(sign_in: SignIn) -> None:
    answer = sign_in().post(reverse("visit-feeds"), {"depot": make_depot().pk, "label": ""})
    assert "Nothing" not in reverse("visit-feeds")
    assert "No address was made" in answer.content.decode()


def test_the_calendar_takes_two_queries_more_for_no_visit(
    django_assert_max_num_queries: object,
) -> None:
    made = make_calendar()
    for _ in range(3):
        make_visit(door=make_door(depot=made.feed.depot))
    with django_assert_max_num_queries(7):  # type: ignore[operator]
        Client().get(reverse("visit-calendar", args=[made.secret]))
    assert made.feed.made_at < NOW
