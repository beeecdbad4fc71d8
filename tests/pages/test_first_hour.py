"""A newcomer with an empty database is led from the first truck to the first due list."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from pytest_django.fixtures import Settings

from analytics.recompute import recompute_fleet
from fleetdoors.models import Depot, DoorModel, DoorUnit, Role
from inspections.models import CounterReading
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_door_model,
    make_reading,
    make_truck,
)
from tests.pages.conftest import SignIn

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]

ANSWERS = {
    "depot": "NORTH",
    "timezone": "America/Chicago",
    "surroundings": ["salt", "dust"],
    "bay_hours_per_day": "8",
    "door_model": "A",
    "supply_volts": "24",
    "counter_digits": "6",
    "counts_per_cycle": "2",
    "trucks": "2104, X-1, 12000\n2105\n2106,,90000",
}


@pytest.fixture(autouse=True)
def folder(settings: Settings, tmp_path: Path, recompute_requests: list[tuple[int, ...]]) -> None:
    """Uploads go elsewhere, and nobody computes what a write asks for."""
    settings.DATA_DIR = tmp_path


def next_step(client: Client, address: str = "first-hour") -> str:
    page = client.get(reverse(address)).content.decode()
    [title] = re.findall(r'<h2 id="first-hour">(.*?)</h2>', page)
    return title


def test_today_begins_with_the_first_steps_and_ends_with_doors(sign_in: SignIn) -> None:
    client = sign_in()
    assert next_step(client, "today") == "Next: Put depots, trucks and doors on record"
    make_door()
    assert 'id="first-hour"' not in client.get(reverse("today")).content.decode()


def test_who_may_not_bring_a_fleet_in_is_told_who_may(sign_in: SignIn) -> None:
    page = sign_in(Role.TECHNICIAN).get(reverse("today")).content.decode()
    assert "A planner brings in the fleet" in page
    assert 'id="first-hour"' not in page


def test_each_step_is_done_by_what_is_on_record(sign_in: SignIn) -> None:
    client = sign_in()
    door = make_door(depot=make_depot(code="N"))
    assert next_step(client) == "Next: Let the others in"
    sign_in(Role.TECHNICIAN)
    assert next_step(client) == "Next: Read every counter, and once more a few days later"
    make_reading(door=door, read_at=NOW - timedelta(days=1), counter_value=5)
    assert next_step(client) == "Next: See what is due"
    recompute_fleet(as_of=NOW, started_at=NOW)
    assert next_step(client) == "All that the record can tell is done"


def test_the_steps_take_the_same_queries_whatever_the_fleet(
    sign_in: SignIn, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    client = sign_in()
    for number in range(12):
        make_door(depot=make_depot(code=f"D{number}"))
    with django_assert_max_num_queries(14):
        client.get(reverse("first-hour"))


def test_a_depot_is_typed_looked_at_and_brought_in(sign_in: SignIn) -> None:
    client = sign_in()
    preview = client.post(reverse("first-fleet"), ANSWERS)
    assert preview.status_code == 302
    assert not DoorUnit.objects.exists(), "nothing is written before it was looked at"
    page = client.get(preview.url).content.decode()
    assert "No errors. Nothing is written before you confirm." in page
    done = client.post(f"{preview.url}confirm/").content.decode()
    assert "Everything was written" in done
    assert reverse("first-hour") in done

    depot, model = Depot.objects.get(), DoorModel.objects.get()
    assert (depot.timezone, depot.setting, depot.bay_hours_per_day) == (
        "America/Chicago",
        "salt+dust",
        8.0,
    )
    # The defaults of a door model stay: 31 to 33 V, 25 mm.
    assert (model.supply_volts, model.counts_per_cycle) == (24.0, 2)
    assert (model.drive_volts_low, model.drive_volts_high, model.sensor_offset_mm) == (31, 33, 25)
    assert dict(DoorUnit.objects.values_list("serial", "opening_cycles")) == {
        "X-1": 6_000,
        "D-2105": 0,
        "D-2106": 45_000,
    }
    assert list(
        CounterReading.objects.order_by("counter_value").values_list("counter_value", "status")
    ) == [(12_000, "accepted"), (90_000, "accepted")]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"trucks": "2104\n2104"}, "Line 2: 2104 stands on line 1 already."),
        ({"trucks": "2104,,1234567"}, "2104: the counter has 6 digits, 1234567 has more."),
        ({"timezone": "Nowhere"}, "Select a valid choice"),
        ({"depot": ""}, "This field is required"),
        ({"bay_hours_per_day": "-1"}, "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_lost(
    sign_in: SignIn, changed: dict[str, str], said: str
) -> None:
    response = sign_in().post(reverse("first-fleet"), ANSWERS | changed)
    page = response.content.decode()
    assert response.status_code == 200
    assert said in page
    assert "what you typed is still here" in page
    assert 'value="A"' in page


def test_what_is_on_record_is_neither_moved_nor_changed(sign_in: SignIn) -> None:
    make_door(serial="X-1", truck=make_truck(fleet_number="2106"))
    page = sign_in().post(reverse("first-fleet"), ANSWERS).content.decode()
    assert "X-1 is on record already." in page
    assert "2106 is on record already." in page


def test_more_trucks_of_a_known_depot_leave_its_settings(sign_in: SignIn) -> None:
    make_depot(code="NORTH", timezone="Europe/Madrid", setting="coast")
    make_door_model(code="A", counts_per_cycle=1)
    client = sign_in()
    preview = client.post(reverse("first-fleet"), ANSWERS)
    client.post(f"{preview.url}confirm/")
    assert DoorUnit.objects.count() == 3
    depot, model = Depot.objects.get(), DoorModel.objects.get()
    assert (depot.timezone, depot.setting, model.counts_per_cycle) == ("Europe/Madrid", "coast", 1)


def test_a_planner_of_some_depots_brings_no_depot_in(sign_in: SignIn) -> None:
    client = sign_in(depots=[make_depot()])
    assert client.get(reverse("first-fleet")).status_code == 403
