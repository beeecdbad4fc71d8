"""Keeping score: what is counted, what the page says of it, and of whom it says nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import Measure, ScoreMonth
from fleetdoors.models import Depot, DoorUnit, MaintenanceTask, Role
from inspections.codes import Action, DetectedBy
from inspections.models import Visit, VisitState
from tests.cost_factories import make_invoice, make_minutes, make_rate
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door_model,
    make_fault,
    make_part,
    make_part_used,
    make_task_done,
    task,
)
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_running_door
from tests.truck_factories import make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
PAGE = "/score/"


def ago(days: float) -> Any:
    return NOW - timedelta(days=days)


@pytest.fixture
def one_task() -> None:
    """One task every 90 days, by the calendar alone."""
    MaintenanceTask.objects.exclude(code="LUB").update(is_on_due_lists=False)
    MaintenanceTask.objects.filter(code="LUB").update(interval_cycles=None, interval_days=90)


def lubricate(door: DoorUnit, *days_ago: float) -> None:
    for days in days_ago:
        make_task_done(door=door, task=task("LUB"), done_at=ago(days))


def shown(client: Client, **asked: object) -> Any:
    answer = client.get(PAGE, asked)
    assert answer.status_code == 200
    return answer.context["page"]


def line(page: Any, key: str) -> Any:
    return {each.key: each for each in page.lines}[key]


def sums(measure: Measure) -> tuple[float, float]:
    """Amount and what it is out of, over every month."""
    rows = ScoreMonth.objects.current().filter(measure=measure)
    return sum(row.amount for row in rows), sum(row.out_of for row in rows)


@pytest.mark.parametrize(
    ("role", "status"), [(Role.PLANNER, 200), (Role.BUYER, 403), (Role.TECHNICIAN, 403)]
)
def test_the_score_is_the_planner_s(sign_in: SignIn, role: Role, status: int) -> None:
    assert sign_in(role).get(reverse("score")).status_code == status


def test_before_anything_is_counted_the_page_says_so(sign_in: SignIn) -> None:
    assert "None are computed yet" in shown(sign_in()).empty
    compute()
    assert "nothing is counted yet" in shown(sign_in()).empty


@pytest.mark.usefixtures("one_task")
def test_the_window_rule_by_hand(sign_in: SignIn) -> None:
    """Gaps of 90 (in time), 80 (early) and 110 days (late, missed in the month of day 99)."""
    door = make_running_door()
    lubricate(door, 330, 240, 160, 50)
    compute()
    assert sums(Measure.ON_TIME) == (1, 3)
    assert sums(Measure.EARLY) == (1, 3)
    strict = line(shown(sign_in()), "kept")
    assert strict.value == "33 %"
    assert strict.note.startswith("33 % in their window, 33 % before it, 33 % missed it.")
    assert line(shown(sign_in(), early="counts"), "kept").value == "67 %"


@pytest.mark.usefixtures("one_task")
def test_what_is_not_done_is_a_miss_of_the_month_its_window_closed_in() -> None:
    door = make_running_door()
    lubricate(door, 250)
    compute()
    closed = ago(250 - 99)
    [row] = ScoreMonth.objects.current().filter(measure=Measure.ON_TIME)
    assert (row.amount, row.out_of) == (0, 1)
    assert row.month_on == closed.date().replace(day=1)
    overdue = ScoreMonth.objects.current().filter(measure=Measure.OVERDUE, amount__gt=0)
    assert {each.month_on for each in overdue} >= {NOW.date().replace(day=1), row.month_on}


@pytest.mark.usefixtures("one_task")
def test_a_task_inside_a_larger_one_kept_its_time_too() -> None:
    MaintenanceTask.objects.filter(code="ANN").update(is_on_due_lists=False)
    door = make_running_door()
    lubricate(door, 150)
    make_task_done(door=door, task=task("ANN"), done_at=ago(60))
    compute()
    assert sums(Measure.ON_TIME) == (1, 1)


def test_repairs_calls_and_defects_found() -> None:
    door, fuse = make_running_door(), component("fuse")
    for days, action, found_by in (
        (100, Action.REPLACE, DetectedBy.DRIVER),
        (90, Action.REPLACE, DetectedBy.PREVENTIVE),
        (60, Action.NONE_FOUND, DetectedBy.DRIVER),
        (50, "", DetectedBy.DRIVER),
    ):
        make_fault(
            door=door, found_at=ago(days), component=fuse, action=action, detected_by=found_by
        )
    make_task_done(door=door, task=task("LUB"), done_at=ago(90))
    compute()
    assert sums(Measure.REPEATS) == (1, 2)
    assert sums(Measure.NONE_FOUND) == (1, 3)
    assert sums(Measure.FOUND) == (1, 1)
    planned, every = sums(Measure.PLANNED)
    assert planned == 15 + 22
    assert every == planned + 4 * 60


def test_availability_counts_overlapping_spells_once(sign_in: SignIn) -> None:
    door = make_running_door()
    for start, end in ((40, 36), (38, 35)):
        make_fault(
            door=door,
            found_at=ago(start),
            off_road_from=ago(start),
            off_road_until=ago(end),
            entered_at=ago(end),
        )
    compute()
    off, served = sums(Measure.OFF_ROAD)
    assert off == pytest.approx(5.0)
    assert served == pytest.approx(365 + 24.5, abs=2)
    assert line(shown(sign_in()), "off_road").value.startswith("98.6")


def test_cost_needs_prices_and_says_what_is_missing(sign_in: SignIn) -> None:
    door = make_running_door()
    priced = make_part(unit_cost=Decimal("100.00"))
    make_part_used(door=door, part=priced, quantity=2, used_at=ago(40))
    make_part_used(door=door, part=make_part(), quantity=3, used_at=ago(40))
    compute()
    cost, cycles = sums(Measure.PARTS_COST)
    assert cost == 200
    # 250 cycles a week for thirteen months, all but the first days of the first month.
    assert cycles == pytest.approx(250 / 7 * 390, rel=0.02)
    parts_alone = line(shown(sign_in()), "cost")
    assert "3 of 5 pieces have no price" in parts_alone.note
    assert "0 of" not in parts_alone.note


def visited(door: DoorUnit, days_ago: float, **facts: Any) -> Visit:
    """A visit of an hour that ended so many days ago."""
    return make_visit(
        door=door,
        state=VisitState.CLOSED,
        started_at=ago(days_ago) - timedelta(hours=1),
        closed_at=ago(days_ago),
        signed_by="Kim",
        **facts,
    )


def test_work_takes_the_minutes_of_its_visits_and_the_prices_of_its_days(
    sign_in: SignIn, one_task: None
) -> None:
    """Three visits: one timed (100 minutes), one not, one that only tasks done tell of."""
    depot = make_depot(code="NORTH")
    door = make_running_door(depot=depot)
    for days in (200, 100, 50):
        lubricate(door, days)
    timed, _untimed = visited(door, 200), visited(door, 100)
    make_minutes(visit=timed, minutes=90, superseded_at=ago(150))
    make_minutes(visit=timed, minutes=100, entered_at=ago(150))
    make_rate(depot=depot, from_on=ago(300).date(), per_hour=Decimal(60))
    make_rate(depot=depot, from_on=ago(60).date(), per_hour=Decimal(120))
    make_rate(depot=depot, from_on=ago(299).date(), per_hour=Decimal(9), currency="EUR")
    make_part_used(door=door, part=make_part(unit_cost=Decimal(1)), used_at=ago(40))
    compute()
    catalogue = 15 + 22
    assert sums(Measure.LABOUR)[0] == 100 + 2 * catalogue
    money, cycles = sums(Measure.LABOUR_COST)
    assert money == pytest.approx(100 * 1 + catalogue * 1 + catalogue * 2)
    assert sums(Measure.TIMED) == (1, 3)
    assert sums(Measure.UNRATED)[0] == 0
    note = line(shown(sign_in()), "cost").note
    assert "1 of 3 visits had their own minutes" in note
    assert "no price of an hour" not in note
    past = sums(Measure.PARTS_COST)[0] + money
    whole = line(shown(sign_in()), "cost")
    assert float(whole.value) == pytest.approx(1_000 * past / cycles, rel=0.1)


def test_a_call_repaired_on_a_timed_visit_counts_within_its_minutes(one_task: None) -> None:
    door = make_running_door()
    fault = make_fault(door=door, found_at=ago(100), component=component("fuse"))
    make_fault(door=door, found_at=ago(80), component=component("fuse"))
    visit = visited(door, 99)
    visit.jobs.create(kind="fault", fault=fault)
    make_minutes(visit=visit, minutes=35, entered_at=ago(99))
    compute()
    assert sums(Measure.LABOUR)[0] == 35 + 60


def test_without_a_price_the_work_is_left_out_and_the_page_says_so(
    sign_in: SignIn, one_task: None
) -> None:
    depot = make_depot(code="NORTH")
    door = make_running_door(depot=depot)
    lubricate(door, 200, 100)
    compute()
    assert "Without the work" in line(shown(sign_in()), "cost").note
    assert "Without the work" not in line(shown(sign_in(), rate="60"), "cost").note
    make_rate(depot=depot, from_on=ago(150).date())
    compute()
    assert "50 % of the minutes have no price" in line(shown(sign_in()), "cost").note


def test_invoices_from_outside_count_and_one_taken_back_does_not(sign_in: SignIn) -> None:
    door = make_running_door()
    facts: dict[str, Any] = {"door": door, "invoiced_on": ago(40).date(), "entered_at": ago(39)}
    make_invoice(number="1", **facts)
    slip = make_invoice(number="2", superseded_at=ago(38), **facts)
    make_invoice(
        number="2", is_reversal=True, amount=Decimal(-400), corrects=slip, reason="slip", **facts
    )
    make_invoice(number="3", currency="EUR", **facts)
    make_invoice(number="4", **(facts | {"entered_at": NOW + timedelta(days=1)}))
    compute()
    money, cycles = sums(Measure.OUTSIDE)
    assert money == 400
    assert cycles > 0
    assert sums(Measure.OUTSIDE_ELSE) == (1, 2)
    cost = line(shown(sign_in()), "cost")
    assert "1 of 2 outside invoices are in another currency" in cost.note
    assert cost.unit.startswith("USD")


def test_freshness_is_what_stands_now(sign_in: SignIn) -> None:
    make_running_door()
    compute()
    fresh = line(shown(sign_in()), "fresh")
    assert (fresh.value, fresh.unit) == ("1", "of 1 doors, now")


def test_backlog_in_weeks_of_the_hours_there_are(sign_in: SignIn, one_task: None) -> None:
    """Never lubricated in 80 weeks: 15 minutes wait; 56 hours a week."""
    depot = make_depot()
    for _door in range(4):
        make_running_door(depot=depot)
    compute()
    waiting = line(shown(sign_in()), "backlog")
    assert waiting.unit == "weeks: 1 hours of 56 a week"
    depot.bay_hours_per_day = None
    depot.save()
    assert "need the hours in the bay" in line(shown(sign_in()), "backlog").unit


def test_foreign_depots_are_neither_counted_nor_named(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    for depot in (own, foreign):
        make_fault(
            door=make_running_door(depot=depot),
            found_at=ago(40),
            component=component("fuse"),
            action=Action.REPLACE,
        )
    compute()
    client = sign_in(depots=[own])
    answer = client.get(PAGE)
    assert "FOREIGN" not in answer.content.decode()
    assert line(answer.context["page"], "repeats").unit == "of 1 repairs"
    assert client.get(PAGE, {"depot": "FOREIGN"}).status_code == 404


def test_depots_and_models_stand_side_by_side_and_people_do_not(sign_in: SignIn) -> None:
    model = make_door_model(code="M-77")
    door = make_running_door(depot=make_depot(code="North"), door_model=model)
    make_task_done(door=door, task=task("LUB"), done_at=ago(40), done_by="Somebody Named")
    compute()
    client = sign_in()
    assert [row[0] for row in shown(client).comparison.rows] == ["Depot North"]
    assert [row[0] for row in shown(client, by="door_model").comparison.rows] == ["M-77"]
    assert "Somebody Named" not in client.get(PAGE).content.decode()
    assert shown(client, door_model="M-77").lines


def test_queries_stay_as_the_fleet_grows(sign_in: SignIn) -> None:
    client = sign_in()

    def queries() -> int:
        compute()
        client.get(PAGE)
        with CaptureQueriesContext(connection) as captured:
            shown(client)
        return len(captured)

    make_running_door(depot=make_depot())
    few = queries()
    for _depot in range(3):
        make_running_door(depot=make_depot(), door_model=make_door_model())
    assert Depot.objects.count() == 4
    assert queries() == few
