"""Readings to settle: every verdict, several at once, nothing by halves."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import Cause, Computation, Settlement, UsageBasis
from fleetdoors.models import Depot, Role
from inspections.models import CounterReading
from tests.factories import NOW, make_depot, make_door, make_reading, make_truck
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import make_figures, make_run, make_suspect

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
SETTLE = "/settle/"


@pytest.fixture
def run() -> Computation:
    return make_run()


@pytest.fixture
def north() -> Depot:
    return make_depot(code="NORTH")


def held(
    run: Computation, depot: Depot, *, value: int = 41_260, suggestion: int | None = 41_620
) -> CounterReading:
    """A reading that waits, at a door of its own."""
    reading = make_reading(
        door=make_door(depot=depot), counter_value=value, status="held",
        read_at=NOW - timedelta(days=1), read_by="ann",
    )  # fmt: skip
    make_suspect(run=run, reading=reading, suggestion=suggestion)
    return reading


def in_force(reading: CounterReading) -> CounterReading:
    return CounterReading.objects.in_force().get(door=reading.door)


def said(client: Client, decision: dict[str, object]) -> str:
    answer = client.post(SETTLE, decision, follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_it_and_who_may_settles(
    sign_in: SignIn, run: Computation, north: Depot, role: Role
) -> None:
    held(run, north)
    page = sign_in(role).get(SETTLE).content.decode()
    assert "1 reading waits." in page
    assert "Were two digits swapped?" in page
    assert "93 % likely" in page
    assert "4,700 to 4,900" in page
    may = role != Role.BUYER
    assert ("It was 41,620" in page) == may
    assert (sign_in(role).post(SETTLE, {"one": "accept-1"}).status_code == 302) == may


def test_an_empty_fleet_and_one_without_doubts_say_so(sign_in: SignIn) -> None:
    assert "No figures have been computed yet" in sign_in().get(SETTLE).content.decode()
    make_run()
    assert "Nothing to settle" in sign_in().get(SETTLE).content.decode()


def test_the_suggestion_is_taken_with_its_reason(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    reading = held(run, north)
    page = said(sign_in(Role.TECHNICIAN), {"one": f"suggested-{reading.pk}"})
    assert "1 reading settled." in page
    assert "Nothing to settle" in page
    new = in_force(reading)
    assert (new.counter_value, new.corrects_id) == (41_620, reading.pk)
    assert "two digits swapped" in new.reason
    reading.refresh_from_db()
    assert (reading.counter_value, reading.superseded_at) == (41_260, NOW)


def test_it_is_right_after_all(sign_in: SignIn, run: Computation, north: Depot) -> None:
    reading = held(run, north)
    said(sign_in(), {"one": f"accept-{reading.pk}"})
    new = in_force(reading)
    assert (new.counter_value, new.ruling, new.status) == (41_260, "accepted", "accepted")


def test_several_are_left_out_at_once(sign_in: SignIn, run: Computation, north: Depot) -> None:
    readings = [held(run, north) for _number in range(3)]
    page = said(sign_in(), {"verdict": "leave_out", "reading": [row.pk for row in readings[:2]]})
    assert "2 readings settled." in page
    assert [in_force(row).ruling for row in readings] == ["held", "held", ""]


def test_ticked_ones_without_a_suggestion_are_left_as_they_are(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    with_one, without = held(run, north), held(run, north, suggestion=None)
    page = said(sign_in(), {"verdict": "suggested", "reading": [with_one.pk, without.pk]})
    assert "1 reading settled." in page
    assert in_force(without) == without
    assert "none had a suggestion" in said(
        sign_in(), {"verdict": "suggested", "reading": [without.pk]}
    )


def test_nothing_is_settled_by_halves(sign_in: SignIn, run: Computation, north: Depot) -> None:
    fine = held(run, north)
    # Seven digits on a counter of six: the correction is refused, and the other with it.
    broken = held(run, north, suggestion=4_162_000)
    page = said(sign_in(), {"verdict": "suggested", "reading": [fine.pk, broken.pk]})
    assert "Nothing was changed." in page
    assert in_force(fine) == fine
    assert in_force(broken) == broken


def test_a_reading_of_another_depot_is_not_touched(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    foreign = held(run, make_depot())
    client = sign_in(Role.PLANNER, [north])
    assert str(foreign.door) not in client.get(SETTLE).content.decode()
    assert "None of these readings was waiting" in said(client, {"one": f"accept-{foreign.pk}"})
    assert in_force(foreign) == foreign


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        ({}, "Tick the readings first"),
        ({"verdict": "accept"}, "Tick the readings first"),
        ({"reading": ["1"]}, "Say what is to be done"),
        ({"verdict": "burn", "reading": ["1"]}, "Select a valid choice"),
        ({"verdict": "accept", "reading": ["x"]}, "Select a valid choice"),
        ({"verdict": "accept", "reading": ["9" * 40]}, "Select a valid choice"),
        ({"one": "accept-" + "9" * 40}, "Enter a valid value"),
        ({"one": "burn-1"}, "Enter a valid value"),
    ],
)
def test_a_decision_that_is_none_is_refused_in_words(
    sign_in: SignIn, run: Computation, north: Depot, decision: dict[str, object], words: str
) -> None:
    reading = held(run, north)
    assert words in said(sign_in(), decision)
    assert in_force(reading) == reading


def test_asked_twice_it_is_done_once(sign_in: SignIn, run: Computation, north: Depot) -> None:
    reading = held(run, north)
    client = sign_in()
    said(client, {"one": f"accept-{reading.pk}"})
    assert "None of these readings was waiting" in said(client, {"one": f"accept-{reading.pk}"})
    assert CounterReading.objects.filter(door=reading.door).count() == 2


def test_what_was_settled_without_asking_can_be_undone(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    taken = make_reading(door=make_door(depot=north), counter_value=900)
    aside = make_reading(door=make_door(depot=north), counter_value=800, status="held")
    make_suspect(run=run, reading=taken, is_held=False, settlement=Settlement.ACCEPTED_LATER)
    make_suspect(run=run, reading=aside, settlement=Settlement.BORNE_OUT)
    client = sign_in()
    page = client.get(SETTLE).content.decode()
    assert "Nothing to settle" in page
    assert "2 of 2." in page
    for name, row in (("reading-hold", taken), ("reading-accept", aside)):
        address = reverse(name, args=[row.pk])
        assert address in page
        assert client.post(address, {"next": SETTLE})["Location"] == SETTLE
    assert in_force(taken).ruling == "held"
    assert in_force(aside).ruling == "accepted"


def test_what_somebody_left_out_is_listed_apart(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    reading = make_reading(door=make_door(depot=north), counter_value=9, status="held")
    make_suspect(run=run, reading=reading, cause=Cause.RULED)
    page = sign_in().get(SETTLE).content.decode()
    assert "Left out by somebody" in page
    assert "Nothing to settle" in page


def test_doors_that_nobody_reads_are_named(sign_in: SignIn, run: Computation, north: Depot) -> None:
    for fleet_number, basis in (("S-1", UsageBasis.STALE), ("U-2", UsageBasis.NONE)):
        door = make_door(truck=make_truck(fleet_number=fleet_number, depot=north))
        read_at = NOW - timedelta(days=200) if basis == UsageBasis.STALE else None
        make_figures(run=run, door=door, basis=basis, last_read_at=read_at)
    page = sign_in(Role.TECHNICIAN).get(SETTLE).content.decode()
    assert page.index("Doors without any usable reading") < page.index("U-2")
    assert page.index("Doors last read over 120 days ago") < page.index("S-1")


def test_a_reading_of_another_truck_names_its_door(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    other = make_door(serial="B/ 2" + "y" * 76, depot=north)
    reading = make_reading(door=make_door(depot=north), counter_value=9, status="held")
    make_suspect(run=run, reading=reading, cause=Cause.WRONG_TRUCK, other_door=other)
    page = sign_in().get(SETTLE).content.decode()
    assert f"It fits door {other.serial}: was it read on that truck?" in page


def test_the_number_of_queries_does_not_grow_with_the_rows(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    client = sign_in()

    def more(count: int) -> int:
        for _number in range(count):
            held(run, north)
            make_figures(run=run, door=make_door(depot=north), basis=UsageBasis.STALE)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(SETTLE).status_code == 200
        return len(queries)

    assert more(3) == more(6)
