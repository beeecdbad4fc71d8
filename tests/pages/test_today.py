"""Today: what needs somebody, first what concerns the person who looks."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from analytics import running
from analytics.models import Cause, Computation, DueState, DueTask, UsageBasis
from fleetdoors.models import Depot, Role
from inspections.models.road_hold import HoldReason, RoadHold
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_part,
    make_reading,
    make_truck,
    task,
)
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import (
    contained_in,
    days,
    make_due,
    make_figures,
    make_outlook,
    make_run,
    make_suspect,
)
from tests.truck_factories import make_hold

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


def body(client: Client, **asked: str) -> str:
    answer = client.get("/", asked)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def run() -> Computation:
    return make_run()


@pytest.fixture
def north() -> Depot:
    return make_depot(code="NORTH")


def test_strangers_are_sent_to_sign_in() -> None:
    assert Client().get(reverse("today")).status_code == 302


@pytest.mark.parametrize("role", list(Role))
def test_an_empty_fleet_says_what_to_do_first(sign_in: SignIn, role: Role) -> None:
    page = body(sign_in(role))
    expected = (
        "Put depots, trucks and doors on record"
        if role in (Role.PLANNER, Role.ADMINISTRATOR)
        else "No doors in sight"
    )
    assert expected in page


@pytest.mark.parametrize(
    ("role", "order"),
    [
        (
            Role.PLANNER,
            ("cannot roll", "tasks are late", "hours there are", "to place", "Every door,"),
        ),
        (Role.TECHNICIAN, ("cannot roll", "tasks are late", "Every door,", "hours there are")),
        (Role.BUYER, ("to place today", "cannot roll", "Every figure")),
        (Role.ADMINISTRATOR, ("cannot roll", "tasks are late", "hours there are", "Every door,")),
    ],
)
def test_each_person_sees_first_what_concerns_them(
    sign_in: SignIn, run: Computation, north: Depot, role: Role, order: tuple[str, ...]
) -> None:
    door = make_door(depot=north)
    make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.LATE, due_on=days(-20), share_used=1.4)
    make_due(run=run, door=door, code="BAL", state=DueState.LATE, due_on=days(-9), share_used=1.2)
    make_fault(door=door, off_road_from=NOW - timedelta(days=1), component=component("spring"))
    for _number in range(2):
        make_outlook(run=run, part=make_part(), depot=north, suggested_order=3)
    page = body(sign_in(role))
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_a_truck_held_by_a_finding_cannot_roll(sign_in: SignIn, north: Depot) -> None:
    truck = make_truck(fleet_number="HELD-1", depot=north)
    RoadHold.objects.create(
        truck=truck,
        door=make_door(truck=truck),
        because=HoldReason.SPRING_OR_CABLE,
        placed_at=NOW - timedelta(days=1),
        entered_at=NOW - timedelta(days=1),
    )
    page = body(sign_in(Role.PLANNER, [north]))
    assert "1 truck cannot roll" in page
    assert "Spring or lift cable damaged" in page


def test_a_door_that_must_not_be_powered_does_not_keep_its_truck(
    sign_in: SignIn, north: Depot
) -> None:
    for number, because in (("1", HoldReason.REVERSE), ("2", HoldReason.SPRING_OR_CABLE)):
        truck = make_truck(fleet_number=f"HELD-{number}", depot=north)
        make_hold(door=make_door(truck=truck), because=because)
        if number == "1":
            page = body(sign_in(Role.PLANNER, [north]))
            assert "1 door must not be powered" in page
            assert "cannot roll" not in page
    page = body(sign_in(Role.PLANNER, [north]))
    assert "1 truck cannot roll, 1 door must not be powered" in page
    assert page.count("by hand only") == 1


def test_trucks_off_the_road_are_those_without_an_end(sign_in: SignIn, north: Depot) -> None:
    def faulty(truck: str, depot: Depot, until: int | None) -> None:
        make_fault(
            door=make_door(truck=make_truck(fleet_number=truck, depot=depot)),
            component=component("spring"),
            found_at=NOW - timedelta(days=5),
            off_road_from=NOW - timedelta(days=4),
            off_road_until=None if until is None else NOW + timedelta(days=until),
        )

    faulty("OPEN-1", north, None)
    faulty("SOON-2", north, 2)
    faulty("BACK-3", north, -1)
    faulty("SOUTH-4", make_depot(), None)
    make_fault(door=make_door(truck=make_truck(fleet_number="ROLLS-5", depot=north)))
    page = body(sign_in(Role.PLANNER, [north]))
    assert "2 trucks cannot roll" in page
    assert "OPEN-1" in page
    assert "SOON-2" in page
    for absent in ("BACK-3", "SOUTH-4", "ROLLS-5"):
        assert absent not in page
    assert "4 days ago" in page


def test_the_week_counts_minutes_once_for_a_task_inside_a_larger_one(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    """A full inspection takes its 120 minutes, and the lubrication inside it none of its own."""
    assert task("LUB") in contained_in("ANN")
    whole, single = make_door(depot=north), make_door(depot=north)
    for door, code, ahead in (
        (whole, "ANN", 7), (whole, "LUB", 2), (whole, "REN", -30),
        (single, "LUB", 0), (single, "BAL", 8),
    ):  # fmt: skip
        make_due(run=run, door=door, code=code, due_on=days(ahead))
    answer = sign_in().get("/")
    (week,) = answer.context["weeks"]
    renewal, inspection, lubrication = (task(code).minutes for code in ("REN", "ANN", "LUB"))
    assert week.minutes == renewal + inspection + lubrication
    assert week.tasks == 3
    assert week.bay_minutes == 7 * 8 * 60
    assert not week.is_too_much
    assert "of 56 h" in answer.content.decode()


def test_more_work_than_hours_is_said(sign_in: SignIn, run: Computation, north: Depot) -> None:
    Depot.objects.filter(pk=north.pk).update(bay_hours_per_day=0.1)
    make_due(run=run, door=make_door(depot=north), code="REN", due_on=days(1))
    assert "More than there is room for" in body(sign_in())


def test_what_cannot_be_trusted_is_counted_and_linked(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    held, stale, unread = (make_door(depot=north) for _number in range(3))
    make_figures(run=run, door=held)
    make_figures(run=run, door=stale, basis=UsageBasis.STALE)
    make_figures(run=run, door=unread, cycles_now=None, basis=UsageBasis.NONE, last_read_at=None)
    make_suspect(run=run, reading=make_reading(door=held, counter_value=1, status="held"))
    ruled = make_reading(door=held, counter_value=2, status="held", read_at=NOW - timedelta(1))
    make_suspect(run=run, reading=ruled, cause=Cause.RULED)
    page = body(sign_in())
    for words in ("1 reading to settle", "1 door last read over 120 days", "1 door never read"):
        assert words in page
    assert reverse("readings-to-settle") in page
    assert "3 doors in service" in page


def test_late_tasks_show_one_task_of_each_door(
    sign_in: SignIn, run: Computation, north: Depot
) -> None:
    worst, other = make_door(serial="W", depot=north), make_door(serial="O", depot=north)
    for code, share in (("LUB", 9.0), ("BAL", 8.0), ("COI", 7.0)):
        make_due(
            run=run, door=worst, code=code, state=DueState.LATE, due_on=days(-90), share_used=share
        )
    make_due(run=run, door=other, state=DueState.LATE, due_on=days(-9), share_used=1.2)
    first = sign_in().get("/").context["overdue"]
    assert (first.tasks, first.doors) == (4, 2)
    assert [(row.door.serial, row.task.code) for row, _state in first.first] == [
        ("W", "LUB"), ("O", "LUB"),
    ]  # fmt: skip


def test_the_wall_shows_each_door_once_worst_first_and_counts_the_rest(
    sign_in: SignIn, run: Computation, north: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("analytics.reports.wall.DOORS_SHOWN", 2)
    for serial, ahead in (("C", 30), ("A", -3), ("B", 2)):
        door = make_door(serial=serial, truck=make_truck(fleet_number=serial, depot=north))
        make_figures(run=run, door=door)
        make_due(run=run, door=door, due_on=days(ahead), state=DueState.LATER)
        make_due(run=run, door=door, code="BAL", due_on=days(ahead + 60))
    (group,) = sign_in().get("/").context["wall"].groups
    assert [door.label for door in group.doors] == ["A", "B"]
    assert group.more == 1
    assert group.more_url == reverse("door-list") + "?depot=NORTH"
    assert group.doors[1].words == "Lubrication: due Fri 27 Nov"


def test_orders_are_the_depots_own(sign_in: SignIn, run: Computation, north: Depot) -> None:
    make_door(depot=north)
    mine, theirs = make_part(name="Fuse 20 A"), make_part(name="Converter 32 V")
    make_outlook(run=run, part=mine, depot=north, suggested_order=4)
    make_outlook(run=run, part=theirs, depot=make_depot(), suggested_order=4)
    page = body(sign_in(Role.BUYER, [north]))
    assert "Fuse 20 A" in page
    assert "2 to 7" in page
    assert "Converter 32 V" not in page


@pytest.mark.parametrize("role", list(Role))
def test_the_number_of_queries_does_not_grow_with_the_rows(
    sign_in: SignIn, run: Computation, north: Depot, role: Role
) -> None:
    client = sign_in(role)
    part = make_part()
    make_outlook(run=run, part=part, depot=north, suggested_order=1)

    def more(count: int) -> int:
        for _number in range(count):
            door = make_door(depot=north)
            make_figures(run=run, door=door)
            make_due(run=run, door=door, state=DueState.LATE, due_on=days(-20), share_used=1.5)
            make_fault(door=door, off_road_from=NOW - timedelta(days=1))
            make_suspect(run=run, reading=make_reading(door=door, counter_value=1, status="held"))
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/").status_code == 200
        return len(queries)

    assert more(3) == more(6)


def test_names_as_long_as_they_may_be_are_shown_whole(sign_in: SignIn, run: Computation) -> None:
    depot = make_depot()
    Depot.objects.filter(pk=depot.pk).update(name="Depot " + "n" * 74)
    door = make_door(serial="A/ 1" + "x" * 76, truck=make_truck(fleet_number="T" * 60, depot=depot))
    make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.LATE, due_on=days(-20), share_used=250.0)
    DueTask.objects.update(lateness_percent=24_900.0)
    make_fault(door=door, off_road_from=NOW - timedelta(days=9_000))
    page = body(sign_in())
    assert "Depot " + "n" * 74 in page
    assert "T" * 60 in page


def test_old_figures_say_so_and_offer_new_ones_to_planners(sign_in: SignIn, north: Depot) -> None:
    make_run(as_of=NOW - timedelta(days=2))
    make_door(depot=north)
    planner = body(sign_in())
    assert "These figures are of Mon 23 Nov 2026" in planner
    assert "Compute anew" in planner
    buyer = body(sign_in(Role.BUYER))
    assert "A planner starts that." in buyer
    assert "Compute anew" not in buyer


@pytest.mark.parametrize("role", [Role.BUYER, Role.TECHNICIAN])
def test_only_planners_have_everything_computed(sign_in: SignIn, role: Role) -> None:
    assert sign_in(role).post(reverse("recompute")).status_code == 403
    assert sign_in(role).get(reverse("recompute-progress")).status_code == 403


def test_computing_is_started_once_and_its_progress_followed(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[object] = []
    monkeypatch.setattr(
        "analytics.views.recompute.start_recomputing", lambda *, now: started.append(now)
    )
    client = sign_in()
    assert client.get(reverse("recompute")).status_code == 405
    answer = client.post(reverse("recompute"))
    assert started == [NOW]
    assert "Reading the record" in client.get(answer["Location"]).content.decode()
    fragment = client.get(answer["Location"], headers={"HX-Request": "true"})
    assert b"<!doctype" not in fragment.content
    assert b"every 1s" in fragment.content
    make_run(as_of=NOW)
    fragment = client.get(answer["Location"], headers={"HX-Request": "true"})
    assert b"every 1s" not in fragment.content
    assert b"Done" in fragment.content


@pytest.mark.parametrize("since", ["yesterday", "2026-13-40T00:00+00:00", "2026-11-25T10:00"])
def test_progress_of_a_run_that_never_was_is_not_found(sign_in: SignIn, since: str) -> None:
    answer = sign_in().get(reverse("recompute-progress"), {"since": since})
    assert answer.status_code == 404


def test_a_run_that_brings_nothing_is_given_up() -> None:
    asked = NOW - running.LONGEST - timedelta(minutes=1)
    assert running.progress_since(asked, now=timezone.now()).is_lost


def test_a_run_that_goes_on_is_not_started_again(monkeypatch: pytest.MonkeyPatch) -> None:
    threads: list[object] = []
    monkeypatch.setattr("analytics.running.Thread", lambda **how: threads.append(how))
    Computation.objects.create(as_of=NOW, started_at=NOW - timedelta(minutes=1))
    running.start_recomputing(now=NOW)
    assert threads == []
