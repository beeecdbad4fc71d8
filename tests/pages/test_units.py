"""A person reads and types inches and pounds-force; on record all is millimetres and newtons."""

import json
import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, Role
from inspections.forms.fields import typed_system
from inspections.forms.trace import answer_from
from inspections.models import Fault, FollowUp, Inspection, Measurement
from tests.factories import NOW, make_door
from tests.pages.conftest import SignIn
from tests.truck_factories import make_measurement

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


@pytest.fixture(autouse=True)
def nobody_computes(recompute_requests: list[tuple[int, ...]]) -> None:
    """Nobody computes what a write asks for."""


@pytest.fixture
def door(db: None) -> DoorUnit:
    return make_door(serial="D-17")


@pytest.fixture
def inches(sign_in: SignIn) -> Client:
    """A technician who chose inches at the foot of a page."""
    client = sign_in(Role.TECHNICIAN)
    chosen = client.post(reverse("units"), {"units": "inch", "next": "/doors/"})
    assert (chosen.status_code, chosen.url) == (302, "/doors/")
    return client


def inspection(units: str | None = None, **values: str) -> dict[str, str]:
    facts = {"kind": "routine", "inspector": "Kit", "begun_at": "2026-01-15T09:00"}
    return facts | values | ({} if units is None else {"units": units})


def form_of(client: Client, door: DoorUnit) -> str:
    return client.get(reverse("inspection-new", args=[door.serial])).content.decode()


def on_record() -> dict[str, float]:
    return dict(Measurement.objects.values_list("quantity", "value"))


def test_the_form_says_its_units_and_carries_them(inches: Client, door: DoorUnit) -> None:
    page = form_of(inches, door)
    shown = re.findall(r'<span class="control-unit">([^<]+)</span>', page)
    assert {"in", "lbf", "°F", "V", "Ω", "A", "s"} == set(shown)
    assert 'name="units" value="inch"' in page
    assert "Millimetres and newtons" in page


def test_without_a_choice_the_install_decides(
    sign_in: SignIn, door: DoorUnit, settings: Settings
) -> None:
    client = sign_in(Role.TECHNICIAN)
    assert 'name="units" value="metric"' in form_of(client, door)
    settings.UNITS = "inch"
    assert 'name="units" value="inch"' in form_of(client, door)


def test_what_is_typed_in_inches_is_kept_in_millimetres(inches: Client, door: DoorUnit) -> None:
    typed = inspection("inch", balance_half="-1", drag="10", sensor_offset="1", battery_rest="12.6")
    address = reverse("inspection-new", args=[door.serial])
    response = inches.post(address, typed | {"celsius": "68", "motor_end": "31", "amps": "8"})
    assert response.status_code == 302
    kept = on_record()
    assert kept["balance_half"] == pytest.approx(-25.4)
    assert kept["drag"] == pytest.approx(44.482_216)
    assert kept["sensor_offset"] == pytest.approx(25.4)
    assert kept["battery_rest"] == 12.6
    assert Measurement.objects.get(quantity="motor_end").celsius == pytest.approx(20.0)
    page = inches.get(response.url).content.decode()
    assert "-1.00 in" in page
    assert "10.0 lbf" in page


def test_the_form_is_read_in_the_units_it_was_filled_in(inches: Client, door: DoorUnit) -> None:
    """A page filled before the choice changed, or kept on a phone, or sent by another system."""
    address = reverse("inspection-new", args=[door.serial])
    inches.post(address, inspection("metric", sensor_offset="25"))
    later = {"begun_at": "2026-01-15T10:00"}
    inches.post(address, inspection(None, balance_half="30") | later)
    assert on_record() == {"sensor_offset": 25.0, "balance_half": 30.0}


def test_a_limit_is_held_against_what_is_kept(inches: Client, door: DoorUnit) -> None:
    """7 in are 178 mm and past 150; 7 mm would hold."""
    address = reverse("inspection-new", args=[door.serial])
    inches.post(address, inspection("inch", balance_half="7"))
    assert Measurement.objects.get().judgement == "past"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"drag": "0.7"}, "Greatest pull along the travel: 0.7 lbf. Was 7 meant (decimal point)?"),
        ({"balance_half": "200"}, "cannot read 200 in: between 0 and 157.48 is possible."),
        ({"celsius": "400"}, "A temperature between −60 and 150 °C is possible."),
    ],
)
def test_questions_are_asked_in_the_units_typed(
    inches: Client, door: DoorUnit, typed: dict[str, str], said: str
) -> None:
    answers = inspection("inch", battery_rest="12.6") | typed
    page = inches.post(reverse("inspection-new", args=[door.serial]), answers).content.decode()
    assert said in page
    assert not Inspection.objects.exists()


def test_a_correction_is_typed_in_the_same_units(inches: Client, door: DoorUnit) -> None:
    inches.post(reverse("inspection-new", args=["D-17"]), inspection("inch", sensor_offset="1"))
    row = Measurement.objects.get()
    address = reverse("measurement-correct", args=[row.pk])
    page = inches.get(address).content.decode()
    assert 'value="1"' in page
    assert "height, in" in page
    inches.post(address, {"value": "1.5", "units": "inch", "reason": "misread"})
    assert Measurement.objects.latest("pk").value == pytest.approx(38.1)


def test_an_answer_of_a_search_is_kept_in_newtons() -> None:
    told = {"reply": "measured", "units": "inch"}
    answer = answer_from(told | {"node": "N51", "values.peak_newtons": "10"})
    assert answer.values["peak_newtons"] == pytest.approx(44.482_216)
    answer = answer_from(told | {"node": "N50", "values.half_mm": "2,5"})
    assert answer.values["half_mm"] == pytest.approx(63.5)


@pytest.mark.parametrize("sent", [{}, {"units": "cubit"}])
def test_what_names_no_units_is_metric(sent: dict[str, str]) -> None:
    assert typed_system(sent) == "metric"


def test_condition_and_limits_are_shown_in_the_units_chosen(
    inches: Client, sign_in: SignIn, door: DoorUnit
) -> None:
    day_before = NOW - timedelta(days=1)
    make_measurement(door=door, quantity="balance_half", value=177.8, measured_at=day_before)
    address = reverse("door-condition", args=["D-17"])
    assert "7.00 in" in inches.get(address).content.decode()
    assert "178 mm" in sign_in(Role.TECHNICIAN).get(address).content.decode()


def test_the_phones_pages_know_the_units(inches: Client, door: DoorUnit) -> None:
    page = inches.get(reverse("round-trace", args=["D-17"])).content.decode()
    [facts] = re.findall(r'id="trace-facts" type="application/json">(.*?)</script>', page)
    assert json.loads(facts)["scales"]["mm"] == {
        "unit": "in",
        "per": 25.4,
        "zero": 0.0,
        "decimals": 2,
    }


def test_the_choice_leads_nowhere_else(sign_in: SignIn) -> None:
    client = sign_in()
    chosen = client.post(reverse("units"), {"units": "cubit", "next": "https://elsewhere.example/"})
    assert (chosen.status_code, chosen.url) == (302, "/")
    assert "fleetdoors_units" not in client.cookies
    assert client.get(reverse("units")).status_code == 405


def test_measures_in_sentences_are_in_the_chosen_units_too(inches: Client, door: DoorUnit) -> None:
    assert "Goes back from a 0.98 in block" in form_of(inches, door)
    tree = inches.get(reverse("round-tree")).json()
    asked = " ".join(node["question"] + node["how"] for node in tree["nodes"].values())
    assert "raised 0.98 to 1.97 in" in asked
    assert not re.search(r"\d mm\b", asked)
    units = {field["unit"] for node in tree["nodes"].values() for field in node["fields"]}
    assert {"mm", "N"} <= units, "the phone's engine counts as on record"


def test_what_a_check_opened_is_kept_in_the_words_of_the_record(
    inches: Client, door: DoorUnit
) -> None:
    typed = inspection("inch", balance_half="-8", reverse_function="2")
    page = inches.post(reverse("inspection-new", args=[door.serial]), typed, follow=True)
    assert FollowUp.objects.get().because.endswith("-203.2 mm")
    assert "25 mm block" in Fault.objects.get().note
    shown = page.content.decode()
    assert "-8.00 in" in shown
    assert "0.98 in block" in shown
    assert not re.search(r"\d mm\b", shown)


def test_a_phone_fetches_its_pages_anew_in_other_units(inches: Client, door: DoorUnit) -> None:
    def marks() -> dict[str, str]:
        pages = inches.get(reverse("round-data")).json()["pages"]
        return {page["url"]: page["mark"] for page in pages}

    before = marks()
    assert before == marks()
    inches.post(reverse("units"), {"units": "metric"})
    after = marks()
    assert before.keys() == after.keys()
    assert all(before[url] != after[url] for url in before)
