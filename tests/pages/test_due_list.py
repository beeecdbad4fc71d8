"""The due list: what it shows, to whom, and how it leaves the program."""

from __future__ import annotations

import csv
from datetime import timedelta
from io import BytesIO, StringIO

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from analytics.models import Computation, DueState, GovernedBy, UsageBasis
from fleetdoors.models import DoorUnit, Role
from fleetdoors.paging import ShortPaginator
from tests.factories import NOW, make_depot, make_door, make_truck
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import days, make_due, make_figures, make_run

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
LIST = "/due/"


def listed(client: Client, **asked: object) -> list[str]:
    """Door and task of each row shown, in order."""
    answer = client.get(LIST, asked)
    assert answer.status_code == 200
    rows = answer.context["table"].paginated_rows
    return [f"{row.record.door.serial} {row.record.task.code}" for row in rows]


def body(client: Client, url: str = LIST, **asked: object) -> str:
    answer = client.get(url, asked)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def run() -> Computation:
    return make_run()


@pytest.fixture
def three(run: Computation) -> list[DoorUnit]:
    """Late at North, due soon at South, and one that nobody can date."""
    north, south = make_depot(code="NORTH"), make_depot(code="SOUTH")
    late = make_door(serial="D-1", truck=make_truck(fleet_number="2104", depot=north))
    soon = make_door(serial="D-2", truck=make_truck(fleet_number="2200", depot=south))
    unread = make_door(serial="X-3", truck=make_truck(fleet_number="3300", depot=south))
    make_due(run=run, door=late, state=DueState.LATE, due_on=days(-20), share_used=1.3)
    make_due(
        run=run, door=soon, code="BAL", state=DueState.SOON, due_on=days(6),
        share_used=0.974, early=days(3), late=days(13),
    )  # fmt: skip
    make_due(run=run, door=unread, state=DueState.UNKNOWN, share_used=None)
    make_figures(run=run, door=late, cycles_now=6_500.0)
    make_figures(run=run, door=soon, cycles_now=4_870.0)
    make_figures(run=run, door=unread, cycles_now=None, basis=UsageBasis.NONE, last_read_at=None)
    return [late, soon, unread]


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_it_and_strangers_do_not(
    sign_in: SignIn, role: Role, three: list[DoorUnit]
) -> None:
    assert listed(sign_in(role)) == ["D-1 LUB", "D-2 BAL", "X-3 LUB"]
    assert Client().get(LIST).status_code == 302


def test_a_row_says_the_state_in_words(sign_in: SignIn, three: list[DoorUnit]) -> None:
    page = body(sign_in())
    assert "Late, was due Thu 5 Nov" in page
    assert "6,500 of 5,000 cycles" in page
    assert "Due Tue 1 Dec" in page
    assert "4,870 of 5,000 cycles · 28 Nov to 8 Dec" in page
    assert "No usable reading" in page
    assert "3 tasks." in page


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({"depot": "SOUTH"}, ["D-2 BAL", "X-3 LUB"]),
        ({"task": "LUB"}, ["D-1 LUB", "X-3 LUB"]),
        ({"state": "late"}, ["D-1 LUB"]),
        ({"state": "pressing"}, ["D-1 LUB"]),
        ({"state": "unknown"}, ["X-3 LUB"]),
        ({"search": "210"}, ["D-1 LUB"]),
        ({"search": " x-3 "}, ["X-3 LUB"]),
        ({"within": "6"}, ["D-1 LUB", "D-2 BAL"]),
        ({"within": "5"}, ["D-1 LUB"]),
        ({"within": "0", "depot": "SOUTH"}, []),
        ({"sort": "-due"}, ["D-2 BAL", "D-1 LUB", "X-3 LUB"]),
        ({"sort": "depot"}, ["D-1 LUB", "D-2 BAL", "X-3 LUB"]),
        ({"page": "99"}, ["D-1 LUB", "D-2 BAL", "X-3 LUB"]),
    ],
)
def test_the_address_says_what_is_listed(
    sign_in: SignIn, three: list[DoorUnit], asked: dict[str, str], expected: list[str]
) -> None:
    assert listed(sign_in(), **asked) == expected


@pytest.mark.parametrize("asked", [{"within": "-3"}, {"within": "soon"}, {"state": "x"}])
def test_nonsense_in_the_address_is_said_and_not_used(
    sign_in: SignIn, three: list[DoorUnit], asked: dict[str, str]
) -> None:
    page = body(sign_in(), **asked)
    assert "Not understood, so not used" in page
    assert "3 tasks." in page


def test_the_filters_stay_in_the_links_to_the_files(sign_in: SignIn, three: list[DoorUnit]) -> None:
    page = body(sign_in(), depot="SOUTH", within="9")
    assert f"{reverse('due-csv')}?depot=SOUTH&amp;within=9" in page
    assert 'value="9"' in page


def test_a_person_of_one_depot_sees_its_doors_only(sign_in: SignIn, three: list[DoorUnit]) -> None:
    south = three[1].mountings.get().truck.depot
    client = sign_in(Role.TECHNICIAN, [south])
    assert listed(client) == ["D-2 BAL", "X-3 LUB"]
    assert client.get(LIST, {"depot": "NORTH"}).status_code == 404
    assert "D-1" not in b"".join(client.get(reverse("due-csv"))).decode()
    assert client.get(reverse("due-why", args=["D-1", "LUB"])).status_code == 404


def test_older_figures_say_so_and_are_moved_on(sign_in: SignIn) -> None:
    run = make_run(as_of=NOW - timedelta(days=5))
    door = make_door(serial="D-9")
    make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.SOON, due_on=days(-1), share_used=0.95)
    assert listed(sign_in(), state="due") == ["D-9 LUB"]
    assert listed(sign_in(), state="soon") == []
    page = body(sign_in())
    assert "These figures are of Fri 20 Nov 2026" in page
    assert "Due since Tue 24 Nov" in page
    assert 'action="/recompute/"' in page
    assert 'action="/recompute/"' not in body(sign_in(Role.BUYER))


def test_an_empty_fleet_says_what_to_do_first(sign_in: SignIn) -> None:
    assert "No doors yet" in body(sign_in())
    assert "No doors in sight" in body(sign_in(Role.BUYER))
    assert b"".join(sign_in().get(reverse("due-csv"))).count(b"\n") == 1


def test_before_the_first_figures_it_says_so(sign_in: SignIn) -> None:
    make_door()
    assert "No figures have been computed yet" in body(sign_in())


def test_the_number_of_queries_does_not_grow_with_the_rows(
    sign_in: SignIn, run: Computation
) -> None:
    client = sign_in()
    depot = make_depot()

    def more(count: int) -> int:
        for _ in range(count):
            door = make_door(depot=depot)
            make_figures(run=run, door=door)
            make_due(run=run, door=door, due_on=days(3))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(LIST).status_code == 200
        return len(queries)

    assert more(4) == more(8)


def test_the_csv_file_holds_what_is_listed_and_no_formula(
    sign_in: SignIn, three: list[DoorUnit], run: Computation
) -> None:
    evil = make_door(serial='=cmd|"/c calc"!A1', truck=make_truck(fleet_number="+1"))
    make_due(run=run, door=evil, due_on=days(1))
    answer = sign_in().get(reverse("due-csv"), {"within": "7"})
    assert answer.streaming
    text = b"".join(answer).decode("utf-8-sig")
    heading, *rows = list(csv.reader(StringIO(text)))
    assert [row[2] for row in rows] == ["D-1", '\'=cmd|"/c calc"!A1', "D-2"]
    assert rows[1][1] == "'+1"
    assert rows[0][heading.index("Due on")] == "2026-11-05"
    assert rows[0][heading.index("State")] == "late"
    assert {len(row) for row in rows} == {len(heading)}


def test_the_workbook_holds_dates_numbers_and_no_formula(
    sign_in: SignIn, three: list[DoorUnit], run: Computation
) -> None:
    evil = make_door(serial="=1+1", truck=make_truck(fleet_number="9"))
    make_due(run=run, door=evil, due_on=days(30))
    answer = sign_in().get(reverse("due-workbook"))
    sheet = load_workbook(BytesIO(b"".join(answer))).worksheets[0]
    rows = list(sheet.iter_rows())
    assert len(rows) == 5
    at = [cell.value for cell in rows[0]].index("Due on")
    assert rows[1][at].value.date() == days(-20)
    serials = [row[2] for row in rows[1:]]
    assert [cell.value for cell in serials] == ["D-1", "D-2", "=1+1", "X-3"]
    assert {cell.data_type for cell in serials} == {"s"}


def test_names_of_eighty_characters_and_odd_serials_are_shown(
    sign_in: SignIn, run: Computation
) -> None:
    serial = "A/ 1 <b>&" + "x" * 71
    door = make_door(serial=serial, truck=make_truck(fleet_number="T" * 60))
    make_due(run=run, door=door, due_on=days(1))
    page = body(sign_in())
    assert "A/ 1 &lt;b&gt;&amp;" + "x" * 71 in page
    assert "<b>&" not in page
    assert sign_in().get(reverse("due-why", args=[serial, "LUB"])).status_code == 200


def test_why_shows_interval_factors_rate_formula_and_cautions(
    sign_in: SignIn, run: Computation
) -> None:
    door = make_door(serial="D-7")
    make_figures(run=run, door=door, cycles_now=4_870.0, cycles_per_day=50.0)
    row = make_due(run=run, door=door, due_on=days(3), early=days(2), late=days(5))
    row.factor, row.factors, row.interval_cycles = 0.5, {"salt": 0.5}, 2_500.0
    row.last_done_cycles, row.due_cycles = 2_500.0, 5_000.0
    row.save()
    page = body(sign_in(Role.TECHNICIAN), reverse("due-why", args=["D-7", "LUB"]))
    assert "last done + interval × factors = 2,500 + 5,000 × 0.50 = 5,000 cycles" in page
    assert "cycles left = due at − cycles now = 5,000 − 4,870 = 130" in page
    assert "130 ÷ 50.0 = 2.6 average days" in page
    assert "Road salt" in page
    assert "45.0 to 55.0 a day, 8 times in 10" in page
    assert "27 Nov to 30 Nov 2026" in page
    assert "not yet calibrated" in page
    assert page.index("WARNING") < page.index("NOTICE")
    assert reverse("task-done-new", args=["D-7"]) in page


def test_why_says_that_the_calendar_decides(sign_in: SignIn, run: Computation) -> None:
    door = make_door(serial="D-8")
    make_figures(run=run, door=door)
    make_due(run=run, door=door, due_on=days(30), governed_by=GovernedBy.DAYS)
    page = body(sign_in(Role.BUYER), reverse("due-why", args=["D-8", "LUB"]))
    assert "The days of the interval are over first." in page
    assert "60 of 90 days" in page
    assert reverse("task-done-new", args=["D-8"]) not in page


def test_why_of_a_task_that_is_not_followed_says_so(sign_in: SignIn, run: Computation) -> None:
    make_door(serial="D-6")
    assert "No date computed" in body(sign_in(), reverse("due-why", args=["D-6", "LUB"]))
    assert sign_in().get(reverse("due-why", args=["D-6", "NIX"])).status_code == 404


def test_figures_older_than_the_door_say_so_in_the_why(sign_in: SignIn, run: Computation) -> None:
    door = make_door(serial="D-5")
    make_figures(run=run, door=door, door_revision=0)
    make_due(run=run, door=door, due_on=days(3))
    DoorUnit.objects.filter(pk=door.pk).raise_revision()
    page = body(sign_in(), reverse("due-why", args=["D-5", "LUB"]))
    assert "since these figures were computed" in page


def test_a_list_longer_than_anybody_pages_is_not_counted_to_its_end(
    sign_in: SignIn, three: list[DoorUnit], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ShortPaginator, "MOST", 2)
    monkeypatch.setattr("analytics.views.due_list.ROWS_A_PAGE", 1)
    client = sign_in()
    assert "More than 2 tasks." in body(client)
    assert "1 to 1 of more than 2" in body(client)
    last = body(client, page="2")
    assert "2 to 2 of more than 2" in last
    assert "Narrow the list to see more" in last
    assert listed(client, page="3") == listed(client, page="2"), "the last page that there is"
    monkeypatch.setattr(ShortPaginator, "MOST", 3)
    assert "3 tasks." in body(client)
    assert "Last page" in body(client, page="3")
