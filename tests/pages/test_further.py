"""Everything else: each person finds the pages that the role opens, and every link opens."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from fleetdoors.models import Role
from tests.factories import make_depot, make_door, make_truck
from tests.pages.conftest import SignIn

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
OK = 200


@pytest.mark.parametrize("role", Role)
def test_every_link_of_the_shell_and_of_the_page_opens(sign_in: SignIn, role: Role) -> None:
    make_door(truck=make_truck(depot=make_depot(code="NORTH")))
    client = sign_in(role)
    shown = client.get(reverse("further")).content.decode()
    body = shown.partition("<nav")[2].partition("<footer")[0]
    links = sorted(set(re.findall(r'href="(/[^"#]*)"', body)))
    assert len(links) > 8
    assert {link: client.get(link).status_code for link in links} == dict.fromkeys(links, OK)


def test_a_person_of_one_depot_finds_that_depots_pages(sign_in: SignIn) -> None:
    mine = make_depot(code="NORTH")
    make_depot(code="SOUTH")
    shown = sign_in(Role.TECHNICIAN, [mine]).get(reverse("further")).content.decode()
    assert reverse("leaving", args=["NORTH"]) in shown
    assert reverse("leaving", args=["SOUTH"]) not in shown
