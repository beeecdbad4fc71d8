"""The desk: readings from paper, who can leave, one-off checks, calls, stays of trucks."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import DepotWeekday, LayUp, Role, TruckDepot
from inspections.models import CounterReading, DefectReport, HoldReason, OneOffLook, RoadHold
from inspections.services.holds import place_hold
from tests.desk_factories import make_check, make_look
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fitment,
    make_part,
    make_reading,
    make_truck,
)
from tests.pages.conftest import SignIn

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
OK, MOVED, FORBIDDEN, NOT_FOUND = 200, 302, 403, 404


@pytest.fixture
def grid() -> str:
    depot = make_depot(code="NORTH")
    for number in (17, 18, 19):
        make_door(serial=f"RD{number}", truck=make_truck(fleet_number=f"T{number}", depot=depot))
    make_door(serial="RD99")
    return reverse("reading-grid", args=["NORTH"])


def key(client: Client, url: str, *rows: tuple[str, str]) -> str:
    sent = {
        "read_on": "2026-11-24",
        "read_about": "07:30",
        "read_by": "Sam",
        "named": [name for name, _ in rows],
        "counter": [value for _, value in rows],
    }
    answer = client.post(url, sent)
    assert answer.status_code == OK
    return answer.content.decode()


def test_rows_are_kept_by_truck_or_door_in_any_case(sign_in: SignIn, grid: str) -> None:
    shown = key(sign_in(), grid, ("t17", "4 210"), ("RD18", "900"), ("", ""))
    assert "2 readings kept." in shown
    kept = CounterReading.objects.order_by("door__serial")
    assert [(row.door.serial, row.counter_value, row.read_by) for row in kept] == [
        ("RD17", 4_210, "Sam"),
        ("RD18", 900, "Sam"),
    ]
    assert kept[0].read_at.isoformat() == "2026-11-24T07:30:00+00:00"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("RD99", "100"), "No truck or door of this depot is called"),
        (("NOBODY", "100"), "No truck or door of this depot is called"),
        (("T18", "12a"), "Only digits stand on a counter"),
        (("T18", "99999999"), "6 digits"),
        (("T18", ""), "Only digits stand on a counter"),
    ],
)
def test_a_wrong_row_stays_with_its_reason_and_the_others_are_kept(
    sign_in: SignIn, grid: str, row: tuple[str, str], why: str
) -> None:
    shown = key(sign_in(), grid, ("T17", "100"), row, ("T19", "300"))
    assert why in shown
    assert f'value="{row[0]}"' in shown
    assert CounterReading.objects.count() == 2


def test_a_sheet_of_another_depot_is_not_opened(sign_in: SignIn, grid: str) -> None:
    assert sign_in(Role.TECHNICIAN, [make_depot()]).get(grid).status_code == NOT_FOUND


def test_forty_rows_are_kept_with_bounded_queries(
    sign_in: SignIn, grid: str, django_assert_max_num_queries: object
) -> None:
    client = sign_in()
    with django_assert_max_num_queries(60):  # type: ignore[operator]
        key(client, grid, *(("T17", "100") for _ in range(3)))


def test_trucks_leave_in_order_and_what_keeps_them_is_said(sign_in: SignIn) -> None:
    depot = make_depot(code="NORTH")
    early = make_door(truck=make_truck(fleet_number="EARLY", depot=depot))
    held = make_door(truck=make_truck(fleet_number="HELD", depot=depot))
    # NOW is noon: the night that begins today ends next.
    DepotWeekday.objects.create(
        depot=depot, weekday=NOW.weekday(), home_from=time(18), home_until=time(5)
    )
    place_hold(
        door=held,
        because=HoldReason.DROPS,
        detail="",
        placed_at=NOW - timedelta(hours=1),
        entered_at=NOW,
    )
    shown = sign_in(Role.TECHNICIAN).get(reverse("leaving", args=["NORTH"])).content.decode()
    assert shown.index("EARLY") < shown.rindex("HELD")
    assert "05:00" in shown
    assert "door drops" in shown
    assert "2 trucks, 1 kept" in shown
    assert early.pk != held.pk


def test_a_depot_without_trucks_says_so(sign_in: SignIn) -> None:
    depot = make_depot()
    shown = sign_in().get(reverse("leaving", args=[depot.code])).content.decode()
    assert "No truck with a door lives here" in shown


def test_a_check_over_a_part_lists_the_doors_that_carry_it(sign_in: SignIn) -> None:
    part, what = make_part(name="Coil cable"), component("coil_cable")
    carries, carried = make_door(serial="CARRIES"), make_door(serial="CARRIED")
    make_door(serial="OTHER")
    make_fitment(door=carries, component=what, part=part)
    make_fitment(door=carried, component=what, part=part, removal="failed", removed_at_cycles=900)
    client = sign_in()
    given = {"title": "Sheath", "what_to_look_at": "Cracks", "part": part.pk}
    answer = client.post(reverse("one-off-new"), given, follow=True).content.decode()
    assert "CARRIES" in answer
    assert "CARRIED" not in answer
    assert "OTHER" not in answer
    assert "1 door has not had it, 0 have." in answer


def test_doors_are_ticked_off_and_a_tick_can_be_taken_back(sign_in: SignIn) -> None:
    door = make_door(serial="RD17")
    check = make_check(door_model=door.door_model)
    client = sign_in(Role.TECHNICIAN)
    url = reverse("one-off-check", args=[check.pk])
    said = {"door": ["RD17"], "is_as_it_should_be": "no", "looked_by": "Sam"}
    assert "Say what was found" in client.post(url, said).content.decode()
    assert not OneOffLook.objects.exists()
    client.post(url, said | {"note": "plug loose"})
    look = OneOffLook.objects.get()
    assert "0 doors have not had it, 1 have." in client.get(url).content.decode()
    client.post(reverse("one-off-look-back", args=[look.pk]), {"reason": "wrong door"})
    assert "1 door has not had it, 0 have." in client.get(url).content.decode()
    assert OneOffLook.objects.get().reason == "wrong door"


def test_a_check_is_closed_with_a_reason_by_the_planner(sign_in: SignIn) -> None:
    check = make_check()
    url = reverse("one-off-close", args=[check.pk])
    assert sign_in(Role.TECHNICIAN).post(url, {"reason": "done"}).status_code == FORBIDDEN
    client = sign_in()
    client.post(url, {"reason": ""})
    check.refresh_from_db()
    assert check.closed_at is None
    client.post(url, {"reason": "all had it"})
    check.refresh_from_db()
    assert check.why_closed == "all had it"
    assert "all had it" in client.get(reverse("one-off-list")).content.decode()


def test_another_depots_technician_does_not_take_a_tick_back(sign_in: SignIn) -> None:
    look = make_look(door=make_door())
    client = sign_in(Role.TECHNICIAN, [make_depot()])
    answer = client.post(reverse("one-off-look-back", args=[look.pk]), {"reason": "x"})
    assert answer.status_code == NOT_FOUND


def test_a_check_names_a_model_or_a_part(sign_in: SignIn) -> None:
    answer = sign_in().post(reverse("one-off-new"), {"title": "T", "what_to_look_at": "W"})
    assert "Name a door model or a part" in answer.content.decode()


CALL = {"reporter": "Kim", "complaint": "S1", "can_be_secured": "yes", "where": "Route 9, km 4"}


@pytest.mark.parametrize(
    ("answers", "because"),
    [
        ({}, None),
        ({"can_be_secured": "unknown"}, None),
        ({"can_be_secured": "no"}, HoldReason.NOT_SECURED),
        ({"is_damaged": "on"}, HoldReason.SPRING_OR_CABLE),
    ],
)
def test_a_call_is_a_report_and_where_it_must_be_a_hold(
    sign_in: SignIn, answers: dict[str, str], because: str | None
) -> None:
    make_door(truck=make_truck(fleet_number="T17"))
    client = sign_in()
    answer = client.post(reverse("roadside-call"), CALL | {"truck": "T17"} | answers)
    assert answer.status_code == MOVED
    report = DefectReport.objects.get()
    assert "Route 9, km 4" in report.words
    assert [hold.because for hold in RoadHold.objects.all()] == ([because] if because else [])


def test_half_a_number_takes_no_call(sign_in: SignIn) -> None:
    make_door(truck=make_truck(fleet_number="T17"))
    answer = sign_in().post(reverse("roadside-call"), CALL | {"truck": "T1"})
    assert "called exactly so" in answer.content.decode()
    assert not DefectReport.objects.exists()


def test_a_truck_moves_and_its_past_stays(sign_in: SignIn) -> None:
    north, south = make_depot(code="NORTH"), make_depot(code="SOUTH")
    truck = make_truck(fleet_number="T17", depot=north)
    make_reading(door=make_door(truck=truck), counter_value=100)
    url = reverse("truck-stays", args=["T17"])
    client = sign_in()
    moved = {"what": "move", "depot": south.pk, "moved_on": "2026-11-20"}
    assert client.post(url, moved).status_code == MOVED
    truck.refresh_from_db()
    assert truck.depot == south
    stays = TruckDepot.objects.filter(truck=truck).order_by("from_on")
    assert [(stay.depot.code, stay.until_on) for stay in stays] == [
        ("NORTH", date(2026, 11, 19)),
        ("SOUTH", None),
    ]
    back = moved | {"depot": north.pk, "moved_on": "2026-11-20"}
    assert "moves on after that" in client.post(url, back).content.decode()


def test_a_truck_is_laid_up_and_comes_back(sign_in: SignIn) -> None:
    truck = make_truck(fleet_number="T17")
    make_door(truck=truck)
    url, client = reverse("truck-stays", args=["T17"]), sign_in()
    rest = {"what": "rest", "from_on": "2026-11-01", "reason": "accident"}
    client.post(url, rest)
    assert "laid up on some of these days" in client.post(url, rest).content.decode()
    stay = LayUp.objects.get()
    client.post(reverse("lay-up-end", args=[stay.pk]))
    stay.refresh_from_db()
    assert stay.until_on == NOW.date()


def test_a_lay_up_does_not_end_before_it_begins(sign_in: SignIn) -> None:
    make_door(truck=make_truck(fleet_number="T17"))
    rest = {"what": "rest", "from_on": "2026-11-05", "until_on": "2026-11-01", "reason": "x"}
    answer = sign_in().post(reverse("truck-stays", args=["T17"]), rest)
    assert "ends on the day it begins or later" in answer.content.decode()
    assert not LayUp.objects.exists()
