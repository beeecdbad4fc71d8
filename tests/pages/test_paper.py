"""Pages for paper and for the wall: a truck's record, the due sheet, the screen in the workshop."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleetdoors.models import Depot, Role
from inspections.models import HoldReason
from inspections.services.holds import place_hold
from inspections.services.tasks_done import WorkDone, correct_task_done
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_task_done,
    make_truck,
    task,
)
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_running_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
OK, NOT_FOUND = 200, 404


@pytest.fixture
def north() -> Depot:
    depot = make_depot(code="NORTH")
    door = make_running_door(serial="RD17", depot=depot)
    mounting = door.mountings.get()
    truck = mounting.truck
    truck.fleet_number, truck.make, truck.tire_size = "T17", "Invented", "225/70R19.5"
    truck.save()
    make_task_done(door=door, task=task("LUB"), done_at=NOW - timedelta(days=40))
    make_fault(door=door, component=component("converter"), found_at=NOW - timedelta(days=20))
    compute()
    return depot


def record(sign_in: SignIn, **asked: str) -> str:
    answer = sign_in(Role.PLANNER).get(reverse("truck-record", args=["T17"]), asked)
    assert answer.status_code == OK
    return answer.content.decode()


def test_the_record_has_the_fields_of_the_rule(sign_in: SignIn, north: Depot) -> None:
    # 49 CFR 396.3(b), recalled: company number, make, serial number, year, tire size, who
    # furnished it; nature and due date of what comes; date and nature of what was done.
    shown = record(sign_in)
    for label in ("Company number", "Make", "Serial number", "Year", "Tire size", "Furnished by"):
        assert label in shown
    assert "225/70R19.5" in shown
    assert "not on record" in shown
    assert "What is due next" in shown
    assert task("BAL").name in shown
    assert "Fault: " in shown
    assert "complies" not in shown


def test_a_correction_and_what_it_corrects_are_both_printed(sign_in: SignIn, north: Depot) -> None:
    door = north.trucks.get().mountings.get().door
    done = door.tasks_done.get()
    correct_task_done(
        task_done=done,
        work=WorkDone(done.task, NOW - timedelta(days=39), None, "Sam"),
        reason="a day late in the book",
        entered_at=NOW,
    )
    shown = record(sign_in)
    assert "corrected: a day late in the book" in shown
    assert shown.count(task("LUB").name) >= 2


def test_the_same_record_prints_the_same_mark(sign_in: SignIn, north: Depot) -> None:
    def mark() -> str:
        return record(sign_in).partition("mark ")[2][:16]

    first = mark()
    assert first == mark()
    door = north.trucks.get().mountings.get().door
    place_hold(
        door=door,
        because=HoldReason.DROPS,
        detail="",
        placed_at=NOW - timedelta(hours=1),
        entered_at=NOW,
    )
    assert mark() != first


def test_days_asked_for_leave_the_others_out(sign_in: SignIn, north: Depot) -> None:
    shown = record(sign_in, from_on="2026-11-01", until_on="2026-11-10")
    assert "Fault: " in shown
    assert "Nothing is on record" in record(sign_in, from_on="2020-01-01", until_on="2020-02-01")


def test_what_happened_on_another_truck_is_not_in_it(sign_in: SignIn, north: Depot) -> None:
    door = north.trucks.get().mountings.get().door
    mounting = door.mountings.get()
    mounting.removed_on = (NOW - timedelta(days=30)).date()
    mounting.save()
    shown = record(sign_in)
    assert "Fault: " not in shown
    assert task("LUB").name in shown


def test_another_depots_truck_is_not_found(sign_in: SignIn, north: Depot) -> None:
    client = sign_in(Role.PLANNER, [make_depot()])
    for name, key in (("truck-record", "T17"), ("due-sheet", "NORTH"), ("wall-screen", "NORTH")):
        assert client.get(reverse(name, args=[key])).status_code == NOT_FOUND


def test_the_due_sheet_goes_week_by_week(sign_in: SignIn, north: Depot) -> None:
    shown = sign_in().get(reverse("due-sheet", args=["NORTH"]), {"weeks": 8}).content.decode()
    assert "Due at Depot NORTH in the next 8 weeks" in shown
    assert "RD17" in shown
    wrong = sign_in().get(reverse("due-sheet", args=["NORTH"]), {"weeks": "many"})
    assert "in the next 4 weeks" in wrong.content.decode()


def test_an_empty_depot_has_an_empty_sheet(sign_in: SignIn) -> None:
    depot = make_depot()
    shown = sign_in().get(reverse("due-sheet", args=[depot.code])).content.decode()
    assert "Nothing falls due" in shown


def test_the_screen_shows_what_stays_and_renews_itself(sign_in: SignIn, north: Depot) -> None:
    door = north.trucks.get().mountings.get().door
    place_hold(
        door=door,
        because=HoldReason.DROPS,
        detail="",
        placed_at=NOW - timedelta(hours=1),
        entered_at=NOW,
    )
    shown = sign_in().get(reverse("wall-screen", args=["NORTH"])).content.decode()
    assert 'data-reload="60"' in shown
    assert "door drops" in shown
    assert "T17" in shown


@pytest.mark.parametrize("name", ["due-sheet", "wall-screen"])
def test_queries_do_not_grow_with_the_doors(sign_in: SignIn, north: Depot, name: str) -> None:
    client = sign_in()

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse(name, args=["NORTH"]))
        return len(caught)

    few = queries()
    for _ in range(3):
        make_task_done(door=make_door(truck=make_truck(depot=north)), task=task("LUB"), done_at=NOW)
    compute()
    assert queries() == few
