"""Who is offered by name: people who work at the door's depot, and nobody of another."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import Depot, DoorUnit, Role, User
from tests.factories import NOW, make_depot, make_door, make_loose_door, make_user
from tests.pages.conftest import SignIn
from tests.truck_factories import make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


@pytest.fixture
def here() -> Depot:
    return make_depot(code="HERE")


@pytest.fixture
def door(here: Depot) -> DoorUnit:
    return make_door(serial="D-17", depot=here)


@pytest.fixture(autouse=True)
def people(here: Depot) -> dict[str, User]:
    """One of this depot, one of two depots, one of every depot, and one of another."""
    elsewhere = make_depot(code="ELSEWHERE")
    return {
        name: make_user(role=Role.TECHNICIAN, username=name, depots=depots)
        for name, depots in (
            ("ours", [here]),
            ("of-both", [here, elsewhere]),
            ("of-all", []),
            ("theirs", [elsewhere]),
        )
    }


def offered(client: Client, address: str, select: str) -> set[str]:
    page = client.get(address).content.decode()
    [options] = re.findall(rf'<select name="{select}".*?</select>', page, re.DOTALL)
    return {name for name in ("ours", "of-both", "of-all", "theirs") if f">{name}<" in options}


def test_a_visit_is_planned_for_somebody_who_works_there(sign_in: SignIn, door: DoorUnit) -> None:
    planning = reverse("visit-plan", args=["D-17"])
    assert offered(sign_in(), planning, "technician") == {"ours", "of-both", "of-all"}


def test_a_visit_is_handed_to_somebody_who_works_there(sign_in: SignIn, door: DoorUnit) -> None:
    visit = make_visit(door=door, state="open", started_at=NOW)
    passing = reverse("visit-hand-over", args=[visit.pk])
    assert offered(sign_in(), passing, "to_person") == {"ours", "of-both", "of-all"}


def test_a_door_that_is_nowhere_is_anybodys(sign_in: SignIn) -> None:
    make_loose_door(serial="D-0")
    planning = reverse("visit-plan", args=["D-0"])
    assert len(offered(sign_in(), planning, "technician")) == 4


def test_somebody_of_another_depot_is_refused(
    sign_in: SignIn, door: DoorUnit, people: dict[str, User]
) -> None:
    answers = {"planned_on": "2026-12-01", "technician": people["theirs"].pk}
    page = sign_in().post(reverse("visit-plan", args=["D-17"]), answers).content.decode()
    assert "Select a valid choice" in page


def test_a_phone_carries_the_names_of_its_readers_depots(sign_in: SignIn, here: Depot) -> None:
    address = reverse("round-shop")
    mine = sign_in(Role.TECHNICIAN, [here]).get(address).json()["people"]
    assert "theirs" not in {each["name"] for each in mine}
    assert {"ours", "of-both", "of-all"} <= {each["name"] for each in mine}
    every = sign_in(Role.TECHNICIAN).get(address).json()["people"]
    assert "theirs" in {each["name"] for each in every}


def test_a_phone_is_not_shared_with_another_depot(
    sign_in: SignIn, here: Depot, people: dict[str, User]
) -> None:
    asked = {"person": people["theirs"].pk, "pin": "1234"}
    answer = sign_in(Role.TECHNICIAN, [here]).post(reverse("round-people-add"), asked)
    assert (answer.status_code, answer.json()["message"]) == (403, "Choose a person.")
