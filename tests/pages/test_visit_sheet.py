"""The sheet of a visit for paper: what stands on it before, and what after."""

from datetime import date, timedelta
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import Caution, Role
from inspections.models import FinalCheck, InspectionKind, Visit
from inspections.quantities import QUANTITIES
from tests.factories import NOW, component, make_depot, make_fault, make_reading, make_user, task
from tests.truck_factories import (
    make_final_check,
    make_follow_up,
    make_hold,
    make_inspection,
    make_measurement,
    make_open_visit,
    make_spring_word,
    make_tick,
    make_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def sheet(visit: Visit, role: Role = Role.TECHNICIAN) -> str:
    client = Client()
    client.force_login(make_user(role=role))
    return client.get(reverse("visit-sheet", args=[visit.pk])).content.decode()


def test_everything_to_do_has_its_place_to_write() -> None:
    visit = make_open_visit()
    make_reading(door=visit.door, counter_value=41_872)
    visit.jobs.create(kind="task", task=task("LUB"))
    visit.jobs.create(kind="task", task=task("ELE"))
    visit.jobs.create(
        kind="fault", fault=make_fault(door=visit.door, component=component("spring"))
    )
    visit.jobs.create(kind="follow_up", follow_up=make_follow_up(door=visit.door))
    page = sheet(visit)
    assert page.count('class="tick-box"') >= 3 * 2 + len(FinalCheck.ITEMS) * 2
    for quantity in QUANTITIES.values():
        assert str(quantity.name) in page
    for words in ("Lubrication", "Balance past its limit", "41,872", "Work done by", "<svg"):
        assert words in page, words
    # Of the spring, and of the electrical set.
    for code in ("C1", "C4"):
        assert Caution.objects.get(code=code).text in unescape(page)
    assert "I am trained and authorized for spring work" in page
    assert reverse("visit-detail", args=[visit.pk]) in page


def test_limits_the_first_value_and_where_it_is_from_stand_beside_the_box() -> None:
    visit = make_open_visit()
    make_measurement(
        inspection=make_inspection(door=visit.door, kind=InspectionKind.COMMISSIONING),
        quantity="travel_open_seconds",
        value=10.0,
    )
    page = sheet(visit)
    assert "31.0 to 33.0" in page
    assert "below 30.0, above 34.0" in page
    assert "11.5 or less" in page
    assert "above 13.0" in page
    assert "common practice, no source" in page


def test_what_was_skipped_measured_and_checked_is_printed() -> None:
    visit = make_open_visit()
    make_tick(visit=visit, tick="tools", reason="no gloves that fit")
    visit.jobs.create(kind="fault", fault=make_fault(door=visit.door))
    make_measurement(door=visit.door, visit=visit, quantity="drag", value=87.25)
    make_final_check(visit=visit, reverses=False)
    make_hold(door=visit.door)
    visit.state, visit.closed_at, visit.signed_by = "closed", NOW + timedelta(hours=1), "Kim Moe"
    visit.save()
    page = sheet(visit, Role.PLANNER)
    for words in ("Skipped", "no gloves that fit", "87.25", "Not to be driven", "Kim Moe"):
        assert words in page, words


def test_the_sheet_is_for_those_at_work_at_the_depot() -> None:
    address = reverse("visit-sheet", args=[make_visit().pk])
    for user, status in (
        (make_user(role=Role.BUYER), 403),
        (make_user(depots=[make_depot()]), 404),
        (make_user(), 200),
    ):
        client = Client()
        client.force_login(user)
        assert client.get(address).status_code == status


def test_a_visit_leads_to_its_sheet() -> None:
    visit = make_visit()
    client = Client()
    client.force_login(make_user())
    page = client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert reverse("visit-sheet", args=[visit.pk]) in page


def test_more_jobs_cost_no_more_queries(django_assert_max_num_queries) -> None:
    def one(jobs: int) -> Visit:
        visit = make_open_visit()
        for _number in range(jobs):
            fault = make_fault(door=visit.door, component=component("fuse"))
            visit.jobs.create(kind="fault", fault=fault)
        return visit

    client = Client()
    client.force_login(make_user())
    few, many = one(2), one(6)
    address = reverse("visit-sheet", args=[few.pk])
    client.get(address)
    with django_assert_max_num_queries(40) as counted:
        client.get(address)
    with django_assert_max_num_queries(len(counted)):
        client.get(reverse("visit-sheet", args=[many.pk]))


def test_who_may_work_on_springs_stands_at_hand_until_when() -> None:
    visit = make_open_visit()
    trained, once = make_user(username="trained"), make_user(username="lapsed")
    make_spring_word(person=trained, until_on=date(2037, 12, 31))
    make_spring_word(person=once, until_on=date(2025, 6, 1))
    client = Client()
    client.force_login(make_user())
    for name in ("visit-detail", "visit-sheet"):
        page = client.get(reverse(name, args=[visit.pk])).content.decode()
        assert "trained" in page
        assert "2037" in page
        assert "lapsed" not in page
