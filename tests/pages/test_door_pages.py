"""The list of doors, a door's page, and what is said of a reading that was just saved."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import Cause, Computation, DueState, UsageBasis
from analytics.recompute import recompute_doors, recompute_fleet
from fleetdoors.models import Depot, DoorUnit, Role
from inspections.models import CounterReading, PartTakenBack
from inspections.services.readings import log_reading
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_loose_door,
    make_part,
    make_part_used,
    make_reading,
    make_readings,
    make_task_done,
    make_truck,
    task,
)
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import days, make_due, make_figures, make_run, make_suspect

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("stopped_clock", "recompute_requests"),
]
DOORS = "/doors/"


def body(client: Client, url: str, **asked: str) -> str:
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def listed(client: Client, **asked: str) -> list[str]:
    answer = client.get(DOORS, asked)
    assert answer.status_code == 200
    return [row.record.serial for row in answer.context["table"].paginated_rows]


@pytest.fixture
def run() -> Computation:
    return make_run()


@pytest.fixture
def north() -> Depot:
    return make_depot(code="NORTH")


@pytest.fixture
def lived(north: Depot) -> DoorUnit:
    """A door with everything on record: readings, work, a fault, parts that failed and run."""
    door = make_door(
        serial="D-17",
        truck=make_truck(fleet_number="2104", depot=north),
        record_from=(NOW - timedelta(days=180)).date(),
    )
    make_readings(
        door=door, values=range(100, 100 + 26 * 350, 350), first_at=NOW - timedelta(days=178)
    )
    make_task_done(door=door, task=task("LUB"), done_at=NOW - timedelta(days=40), done_by="ann")
    make_fault(
        door=door, found_at=NOW - timedelta(days=30), component=component("coil_cable"), mode="FM10"
    )
    make_part_used(
        door=door, part=make_part(name="Coil cable 8 m"), used_at=NOW - timedelta(days=30)
    )
    cable = component("coil_cable")
    make_fitment(
        door=door, component=cable, fitted_at_cycles=0, removed_at_cycles=7_300,
        removed_on=(NOW - timedelta(days=30)).date(), removal="failed",
    )  # fmt: skip
    make_fitment(door=door, component=cable, fitted_at_cycles=7_300)
    make_fitment(door=door, component=component("spring"), position="left", fitted_at_cycles=None)
    return door


# The list


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_the_list_also_before_any_figures(sign_in: SignIn, role: Role) -> None:
    assert listed(sign_in(role)) == []
    assert "No doors" in body(sign_in(role), DOORS)
    make_door(serial="D-1")
    assert listed(sign_in(role)) == ["D-1"]
    assert "Not computed yet" in body(sign_in(role), DOORS)


def test_a_row_says_the_most_pressing_task_cycles_rate_and_last_reading(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    door = make_door(serial="D-1", truck=make_truck(fleet_number="2104", depot=north))
    make_figures(run=run, door=door, cycles_now=41_206.0, cycles_per_day=50.0)
    make_due(run=run, door=door, state=DueState.LATER, due_on=days(-90))
    make_due(run=run, door=door, code="BAL", state=DueState.LATE, due_on=days(-20), share_used=1.3)
    page = body(sign_in(), DOORS)
    assert "Balance check: late, was due Thu 5 Nov" in page
    assert "41,206" in page
    assert "50.0 <small>45.0 to 55.0</small>" in page
    assert "2 days ago" in page


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({}, ["A-1", "B-2", "C-3"]),
        ({"depot": "NORTH"}, ["A-1"]),
        ({"search": "22"}, ["B-2"]),
        ({"search": "c-"}, ["C-3"]),
        ({"model": "FD-X"}, ["C-3"]),
        ({"readings": "stale"}, ["B-2"]),
        ({"readings": "unread"}, ["A-1"]),
        ({"readings": "held"}, ["C-3"]),
        ({"service": "all"}, ["A-1", "B-2", "C-3", "R-4"]),
        ({"model": "nothing"}, ["A-1", "B-2", "C-3"]),
        ({"page": "7"}, ["A-1", "B-2", "C-3"]),
    ],
)
def test_the_address_says_which_doors_are_listed(
    sign_in: SignIn, run: Computation, north: Depot, asked: dict[str, str], expected: list[str]
) -> None:
    unread = make_door(serial="A-1", truck=make_truck(fleet_number="9100", depot=north))
    stale = make_door(serial="B-2", truck=make_truck(fleet_number="2200"))
    loose = make_loose_door(serial="C-3")
    make_loose_door(serial="R-4", retired_on=date(2026, 1, 1))
    loose.door_model.code = "FD-X"
    loose.door_model.save()
    make_figures(run=run, door=unread, cycles_now=None, basis=UsageBasis.NONE, last_read_at=None)
    make_figures(run=run, door=stale, basis=UsageBasis.STALE)
    figures = make_figures(run=run, door=loose)
    figures.held = 1
    figures.save()
    assert listed(sign_in(), **asked) == expected


def test_a_person_of_one_depot_sees_its_doors_only(sign_in: SignIn, north: Depot) -> None:
    make_door(serial="MINE", depot=north)
    make_door(serial="THEIRS", depot=make_depot(code="SOUTH"))
    # One that was never on a truck belongs to no depot: whoever may mount it has to find it.
    make_loose_door(serial="STORED")
    client = sign_in(Role.TECHNICIAN, [north])
    assert listed(client) == ["MINE", "STORED"]
    assert client.get(DOORS, {"depot": "SOUTH"}).status_code == 404
    assert client.get(reverse("door-detail", args=["THEIRS"])).status_code == 404
    assert client.get(reverse("door-detail", args=["STORED"])).status_code == 200


def test_the_list_needs_no_more_queries_for_more_doors(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    client = sign_in()

    def more(count: int) -> int:
        for _number in range(count):
            door = make_door(depot=north)
            make_figures(run=run, door=door)
            make_due(run=run, door=door, due_on=days(4))
            make_due(run=run, door=door, code="BAL", due_on=days(9))
        with CaptureQueriesContext(connection) as queries:
            assert len(listed(client)) > 0
        return len(queries)

    assert more(3) == more(6)


# The page


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_a_door_and_who_may_writes(
    sign_in: SignIn, lived: DoorUnit, role: Role
) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    page = body(sign_in(role), reverse("door-detail", args=["D-17"]))
    may = role != Role.BUYER
    for name in ("reading-new", "task-done-new", "fault-new", "counter-exchange"):
        assert (f'href="{reverse(name, args=["D-17"])}"' in page) == may


def test_a_door_shows_its_life(sign_in: SignIn, lived: DoorUnit) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    page = body(sign_in(), reverse("door-detail", args=["D-17"]))
    assert "How is the door of truck 2104?" in page
    assert "from 26 readings of its own" in page
    assert "26 readings count" in page
    assert "8,850 cycles on record, 26 readings, 1 fault" in page
    assert "Spring, left" in page
    assert "not known" in page
    assert "Coil cable 8 m" in page
    assert reverse("due-why", args=["D-17", "LUB"]) in page
    assert page.count("life-task") > 1


def test_lifetime_cycles_stand_beside_the_counter(sign_in: SignIn, north: Depot) -> None:
    """Two counts a cycle, and a record that begins at 1,000 cycles."""
    begun = (NOW - timedelta(days=91)).date()
    door = make_door(serial="TWO", depot=north, opening_cycles=1_000, record_from=begun)
    door.door_model.counts_per_cycle = 2
    door.door_model.save()
    make_readings(door=door, values=[2_100, 2_800, 3_500, 4_200])
    rows = sign_in().get(reverse("door-detail", args=["TWO"])).context["page"].readings
    assert [(row.reading.counter_value, row.cycles) for row in rows] == [
        (4_200, 2_100.0), (3_500, 1_750.0), (2_800, 1_400.0), (2_100, 1_050.0),
    ]  # fmt: skip


def test_a_door_that_was_never_read_or_computed_has_a_page(sign_in: SignIn) -> None:
    make_loose_door(serial="NEW")
    page = body(sign_in(), reverse("door-detail", args=["NEW"]))
    assert "No reading yet" in page
    assert "No figures have been computed yet" in page
    assert "Nothing to draw yet" in page


def test_a_retired_door_and_one_whose_record_begins_tomorrow_have_a_page(
    sign_in: SignIn, run: Computation
) -> None:
    make_loose_door(serial="OLD", retired_on=date(2026, 1, 1))
    make_loose_door(serial="NEXT", record_from=date(2027, 1, 1))
    assert "Retired on" in body(sign_in(), reverse("door-detail", args=["OLD"]))
    assert "No task is followed" in body(sign_in(), reverse("door-detail", args=["NEXT"]))


def test_what_was_entered_since_is_said(sign_in: SignIn, lived: DoorUnit) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    address = reverse("door-detail", args=["D-17"])
    assert "since its figures were computed" not in body(sign_in(), address)
    log_reading(
        door=lived,
        read_at=NOW - timedelta(hours=1),
        counter_value=9_060,
        entered_at=NOW - timedelta(minutes=4),
    )
    page = body(sign_in(), address)
    assert "since its figures were computed" in page
    assert "9,060" in page


def test_a_held_reading_stands_with_its_cause_and_suggestion(
    sign_in: SignIn, run: Computation, lived: DoorUnit
) -> None:
    reading = make_reading(door=lived, counter_value=90_500, status="held", ruling="held")
    make_suspect(run=run, reading=reading, suggestion=9_050)
    page = body(sign_in(), reverse("door-detail", args=["D-17"]))
    assert "Were two digits swapped?" in page
    assert "Probably 9,050 (95 % likely)." in page
    assert "Expected 4,700 to 4,900." in page


def test_a_long_record_is_shown_in_part_and_whole_when_asked(
    sign_in: SignIn, lived: DoorUnit
) -> None:
    address = reverse("door-detail", args=["D-17"])
    assert "8 of 26" in body(sign_in(), address)
    assert "26 of 26" in body(sign_in(), address, whole="1")


@pytest.mark.parametrize("serial", ["A/12", "D 17 / ~x", "..", "Ü%" + "9" * 78, "<i>&'\""])
def test_an_odd_serial_has_its_pages(sign_in: SignIn, serial: str) -> None:
    make_door(serial=serial, truck=make_truck(fleet_number="T/" + "8" * 58))
    client = sign_in()
    assert client.get(reverse("door-detail", args=[serial])).status_code == 200
    assert "<i>&" not in body(client, reverse("door-detail", args=[serial]))
    truck = client.get(reverse("truck-detail", args=["T/" + "8" * 58]))
    assert truck["Location"] == reverse("door-detail", args=[serial])


def test_a_truck_out_of_sight_or_without_a_door_is_not_found(sign_in: SignIn, north: Depot) -> None:
    make_truck(fleet_number="EMPTY", depot=north)
    make_door(truck=make_truck(fleet_number="AWAY"))
    client = sign_in(Role.PLANNER, [north])
    assert client.get(reverse("truck-detail", args=["EMPTY"])).status_code == 404
    assert client.get(reverse("truck-detail", args=["AWAY"])).status_code == 404


def test_a_door_needs_no_more_queries_for_a_longer_record(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    door = make_door(serial="Q", depot=north)
    client = sign_in()
    made = 0

    def more(count: int) -> int:
        nonlocal made
        for _number in range(count):
            made += 1
            at = NOW - timedelta(days=200 - made)
            make_reading(door=door, counter_value=made * 50, read_at=at)
            make_fault(door=door, found_at=at, component=component("fuse"))
            make_task_done(door=door, task=task("LUB"), done_at=at)
            used = make_part_used(door=door, part=make_part(), used_at=at)
            PartTakenBack.objects.create(door=door, used=used, reason="slip", entered_at=at)
            make_fitment(
                door=door, component=component("fuse"), fitted_at_cycles=made * 50,
                removed_at_cycles=made * 50 + 50, removed_on=at.date(), removal="failed",
            )  # fmt: skip
        with CaptureQueriesContext(connection) as queries:
            body(client, reverse("door-detail", args=["Q"]), whole="1")
        return len(queries)

    assert more(4) == more(8)


# After a reading


def answer_to(client: Client, reading: CounterReading, **asked: str) -> str:
    return body(client, reverse("reading-answer", args=[reading.pk]), **asked)


def test_a_reading_that_fits_says_what_was_expected_and_what_is_due(
    sign_in: SignIn, lived: DoorUnit
) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    reading = lived.readings.latest("read_at")
    text = answer_to(sign_in(Role.TECHNICIAN), reading)
    assert "Expected was 8," in text
    assert "The door has made 8,850 cycles in its life." in text
    assert "What is due first" in text
    assert "<!doctype" not in text


def test_the_figures_follow_a_reading_that_is_saved(sign_in: SignIn, lived: DoorUnit) -> None:
    recompute_fleet(as_of=NOW, started_at=NOW)
    reading = log_reading(
        door=lived,
        read_at=NOW - timedelta(minutes=5),
        counter_value=9_000,
        entered_at=NOW - timedelta(minutes=4),
    )
    waiting = answer_to(sign_in(), reading)
    assert "being worked out" in waiting
    assert "look=1" in waiting
    given_up = answer_to(sign_in(), reading, look="15")
    assert "It is kept; look again later." in given_up
    assert "hx-get" not in given_up
    recompute_doors([lived.pk], as_of=NOW)
    assert "The door has made 9,000 cycles" in answer_to(sign_in(), reading)


def test_a_reading_that_does_not_fit_asks_its_question(
    sign_in: SignIn, run: Computation, lived: DoorUnit
) -> None:
    make_figures(run=run, door=lived, holds_in_row=3)
    reading = make_reading(door=lived, counter_value=90_500, status="held", ruling="held")
    make_suspect(run=run, reading=reading, suggestion=9_050)
    text = answer_to(sign_in(Role.TECHNICIAN), reading)
    assert "Were two digits swapped?" in text
    assert "It was 9050" in text
    assert "It does show 90500" in text
    assert "look at the counter itself" in text
    corrected = sign_in(Role.TECHNICIAN).post(
        reverse("reading-correct", args=[reading.pk]),
        {"counter_value": "9050", "reason": "Were two digits swapped?"},
    )
    assert corrected.status_code == 302
    assert CounterReading.objects.get(corrects=reading).counter_value == 9_050
    assert "It was 9050" not in answer_to(sign_in(Role.BUYER), make_held(run, lived))


def make_held(run: Computation, door: DoorUnit) -> CounterReading:
    reading = make_reading(
        door=door, counter_value=90_501, status="held", ruling="held",
        read_at=NOW - timedelta(hours=3),
    )  # fmt: skip
    make_suspect(run=run, reading=reading, suggestion=9_050, cause=Cause.COUNTER_EXCHANGE)
    return reading


def test_a_counter_that_may_have_been_exchanged_leads_to_its_own_page(
    sign_in: SignIn, run: Computation, lived: DoorUnit
) -> None:
    make_figures(run=run, door=lived)
    text = answer_to(sign_in(Role.TECHNICIAN), make_held(run, lived))
    assert reverse("counter-exchange", args=["D-17"]) in text


def test_the_first_reading_had_nothing_to_go_by(sign_in: SignIn, north: Depot) -> None:
    door = make_door(depot=north)
    reading = make_reading(door=door, counter_value=12, read_at=NOW - timedelta(hours=1))
    recompute_fleet(as_of=NOW, started_at=NOW)
    assert answer_to(sign_in(), reading).strip()


def test_an_answer_about_another_depots_reading_is_not_given(
    sign_in: SignIn, north: Depot, lived: DoorUnit
) -> None:
    foreign = make_reading(door=make_door(), counter_value=5)
    client = sign_in(Role.PLANNER, [north])
    assert client.get(reverse("reading-answer", args=[foreign.pk])).status_code == 404
    assert Client().get(reverse("reading-answer", args=[foreign.pk])).status_code == 302
