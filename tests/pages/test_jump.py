"""The box in the shell finds a door by truck or door number, within the person's depots."""

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from fleetdoors.models import Role
from tests.factories import make_depot, make_door, make_loose_door, make_truck, make_user

pytestmark = pytest.mark.django_db


def signed_in(role: Role = Role.TECHNICIAN, depots=()) -> Client:
    client = Client()
    client.force_login(make_user(role=role, depots=depots))
    return client


def jump(client: Client, typed: str):
    return client.get(reverse("jump"), {"q": typed})


def test_strangers_are_sent_to_sign_in() -> None:
    response = jump(Client(), "2104")
    assert response.status_code == 302
    assert response.url.startswith(reverse("sign-in"))


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("typed", ["2104", " 2104 ", "d-17", "D-17"])
def test_an_exact_number_goes_straight_to_the_door(role: Role, typed: str) -> None:
    make_door(serial="D-17", truck=make_truck(fleet_number="2104"))
    make_door(serial="D-178", truck=make_truck(fleet_number="21045"))
    response = jump(signed_in(role), typed)
    assert (response.status_code, response.url) == (302, reverse("door-detail", args=["D-17"]))


@pytest.mark.parametrize("typed", ["door 2104", "truck no. 2104", "the door of 2104"])
def test_a_number_with_words_around_it_is_found(typed: str) -> None:
    make_door(serial="D-17", truck=make_truck(fleet_number="2104"))
    response = jump(signed_in(), typed)
    assert (response.status_code, response.url) == (302, reverse("door-detail", args=["D-17"]))


def test_words_that_are_part_of_a_number_come_first() -> None:
    make_door(serial="door 17", truck=make_truck(fleet_number="1"))
    make_door(serial="17", truck=make_truck(fleet_number="2"))
    assert jump(signed_in(), "door 17").url == reverse("door-detail", args=["door 17"])


@pytest.mark.parametrize("serial", ["A/12", "D 17", "..", "50%?", "Tür~9"])
def test_an_odd_serial_is_found(serial: str) -> None:
    make_door(serial=serial)
    response = jump(signed_in(), serial)
    assert response.url == reverse("door-detail", args=[serial])


def test_half_a_number_offers_what_begins_with_it_first() -> None:
    make_door(serial="X1", truck=make_truck(fleet_number="9210"))
    make_door(serial="X2", truck=make_truck(fleet_number="2104"))
    response = jump(signed_in(), "210")
    assert response.status_code == 200
    trucks = [choice["match"].truck for choice in response.context["choices"]]
    assert trucks == ["2104", "9210"]
    assert reverse("door-detail", args=["X2"]) in response.content.decode()


def test_a_truck_and_a_door_of_the_same_number_are_both_offered() -> None:
    make_door(serial="2104")
    make_door(serial="X2", truck=make_truck(fleet_number="2104"))
    response = jump(signed_in(), "2104")
    assert len(response.context["choices"]) == 2


def test_a_truck_without_a_door_says_so() -> None:
    make_truck(fleet_number="2104")
    response = jump(signed_in(), "2104")
    assert "carries no door" in response.content.decode()


def test_a_door_that_was_never_on_a_truck_is_found_by_everybody() -> None:
    make_loose_door(serial="STORE-1")
    assert jump(signed_in(), "STORE-1").status_code == 302
    assert jump(signed_in(depots=[make_depot()]), "STORE-1").status_code == 302


def test_doors_and_trucks_of_other_depots_are_not_found() -> None:
    own, foreign = make_depot(), make_depot()
    make_door(serial="D-17", truck=make_truck(fleet_number="2104", depot=foreign))
    make_truck(fleet_number="2105", depot=foreign)
    client = signed_in(depots=[own])
    for typed in ("D-17", "2104", "2105", "21"):
        response = jump(client, typed)
        assert response.status_code == 200
        assert response.context["choices"] == []


@pytest.mark.parametrize("typed", ["", "   "])
def test_nothing_typed_asks_for_a_number(typed: str) -> None:
    make_door()
    response = jump(signed_in(), typed)
    assert "Which truck or door?" in response.content.decode()


def test_what_is_typed_is_shown_as_text() -> None:
    response = jump(signed_in(), "<script>alert(1)</script>")
    assert "&lt;script&gt;" in response.content.decode()
    assert "<script>alert" not in response.content.decode()


def test_more_than_fit_are_cut_short_and_queries_stay_equal(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    depot = make_depot()
    for number in range(30):
        make_door(serial=f"D{number}", truck=make_truck(fleet_number=f"77{number:02}", depot=depot))
    client = signed_in()
    with django_assert_max_num_queries(17):
        response = jump(client, "77")
    assert len(response.context["choices"]) == 24
    assert "There are more" in response.content.decode()
