"""The year ahead: what the page says, for whom, and at what price in queries."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.assessment import work_base
from analytics.models import Computation, DoorFigures
from analytics.recompute import recompute_doors
from analytics.tasks import catch_up
from fleetdoors.models import ClosedDay, DepotWeekday, MaintenanceTask, Role
from tests.factories import NOW, component, make_depot, make_door
from tests.pages.conftest import SignIn
from tests.pages.planner_rows import make_figures, make_run
from tests.pages.running_fleet import compute, make_lives, make_running_door, make_wearing_fleet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
PAGE = "/ahead/"
BY_DAYS = ("LUB",)


@pytest.fixture
def one_task() -> None:
    """A catalogue of one task every 90 days, so that the year can be counted by hand."""
    MaintenanceTask.objects.exclude(code="LUB").update(is_on_due_lists=False)
    MaintenanceTask.objects.filter(code="LUB").update(interval_cycles=None, interval_days=90)


def shown(client: Client, **asked: object) -> Any:
    answer = client.get(PAGE, asked)
    assert answer.status_code == 200
    return answer.context["page"]


@pytest.mark.parametrize(
    ("role", "status"),
    [(Role.PLANNER, 200), (Role.ADMINISTRATOR, 200), (Role.BUYER, 403), (Role.TECHNICIAN, 403)],
)
def test_the_year_ahead_is_the_planner_s(sign_in: SignIn, role: Role, status: int) -> None:
    assert sign_in(role).get(reverse("work-ahead")).status_code == status


def test_before_the_first_run_and_without_doors_it_says_so(sign_in: SignIn) -> None:
    assert "None are computed yet" in shown(sign_in()).empty
    compute()
    assert "No door in service is in sight" in shown(sign_in()).empty


@pytest.mark.parametrize("kept", [{}, {"version": 0}])
def test_a_run_that_kept_nothing_of_use_is_said_not_failed(
    sign_in: SignIn, kept: dict[str, int]
) -> None:
    run = make_run()
    Computation.objects.update(parameters=kept)
    make_figures(run=run, door=make_door())
    client = sign_in()
    assert "Compute all figures anew" in shown(client).empty
    sheet = client.get("/tasks/LUB/", {"interval_cycles": "4000"})
    assert sheet.status_code == 200


def test_a_run_over_no_doors_takes_in_the_first_ones(sign_in: SignIn) -> None:
    """What is usual is learned from no door at all, and the year is foreseen all the same."""
    compute()
    door = make_running_door(depot=make_depot(code="North"))
    assert recompute_doors([door.pk], as_of=NOW) == 1
    assert [each.label for each in shown(sign_in()).depots] == ["Depot North"]


def test_doors_on_top_of_a_run_that_kept_nothing_bring_a_full_run() -> None:
    old = make_run()
    door = make_running_door()
    catch_up([door.pk])
    new = Computation.objects.current().get()
    assert new != old
    assert new.parameters["version"] == 1
    assert DoorFigures.objects.current().get().door == door


@pytest.mark.usefixtures("one_task")
def test_a_year_counted_by_hand(sign_in: SignIn) -> None:
    """Three doors never lubricated: now and every 90 days, 15 minutes and 22 of the visit."""
    depot = make_depot(code="North")
    for _door in range(3):
        make_running_door(depot=depot)
    compute()
    page = shown(sign_in())
    [north] = page.depots
    times = 5  # days 0, 90, 180, 270 and 360
    assert [row[1] for row in north.rows].count("3") == times
    hours = 3 * times * (15 + 22) / 60
    assert page.lead.startswith(f"Planned work of {hours:.1f} hours in the year to 24 Nov 2027")
    assert "1.9 hours of it wait already." in page.lead
    assert "Every week fits the hours there are." in page.lead


@pytest.mark.usefixtures("one_task")
def test_what_if_says_before_and_after(sign_in: SignIn) -> None:
    make_running_door()
    compute()
    client = sign_in()
    assert shown(client).changed == ""
    halved = shown(client, intervals="0.5", task="LUB")
    assert "(+80 %)" in halved.changed  # days 0, 45, ... 360: nine times instead of five
    # A task that is not planned is not understood, and halves nothing.
    assert shown(client, intervals="0.5", task="BAL").changed == ""
    quick = shown(client, visit="0")
    assert "(−59 %)" in quick.changed  # 15 minutes instead of 37
    text = client.get(PAGE, {"usage": "-3"}).content.decode()
    assert "Not understood, so not used: Cycles a day, times." in text


@pytest.mark.usefixtures("one_task")
def test_hours_are_the_depot_s_own_week_less_closed_days(sign_in: SignIn) -> None:
    depot = make_depot(code="North")
    for weekday in (5, 6):
        DepotWeekday.objects.create(depot=depot, weekday=weekday, bay_hours=0)
    ClosedDay.objects.create(depot=depot, closed_on=NOW.date())
    make_running_door(depot=depot)
    compute()
    [north] = shown(sign_in()).depots
    assert north.rows[0][-1] == str(8 * (4 * 5 - 1))
    [twice] = shown(sign_in(), hours="2").depots
    assert twice.rows[0][-1] == str(2 * 8 * (4 * 5 - 1))


@pytest.mark.usefixtures("one_task")
def test_more_than_the_hours_is_said(sign_in: SignIn) -> None:
    depot = make_depot(code="North")
    depot.bay_hours_per_day = 0.05
    depot.save()
    make_running_door(depot=depot)
    compute()
    page = shown(sign_in())
    assert "At 1 depot some weeks bring more than their hours." in page.lead
    assert "More than there is room for in 5 weeks of 52." in page.depots[0].note


@pytest.mark.usefixtures("one_task")
def test_foreign_depots_are_neither_counted_nor_named(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    make_running_door(depot=own)
    make_running_door(depot=foreign)
    compute()
    client = sign_in(depots=[own])
    answer = client.get(PAGE)
    assert [each.label for each in answer.context["page"].depots] == ["Depot OWN"]
    assert "FOREIGN" not in answer.content.decode()
    assert client.get(PAGE, {"depot": "FOREIGN"}).status_code == 404


def test_a_wave_of_cables_is_foreseen(sign_in: SignIn) -> None:
    """Doors whose cables wear out (shape 3): the page speaks of them and of no springs."""
    make_wearing_fleet(doors=12, depot=make_depot())
    compute()
    [wave] = shown(sign_in()).waves
    assert wave.label == str(component("coil_cable"))
    assert wave.sentence.startswith("About ")
    assert len(wave.rows) == 26
    assert "12 fitted on doors in service." in wave.note


def test_cables_fitted_together_fail_together(sign_in: SignIn) -> None:
    depot = make_depot()
    make_wearing_fleet(doors=6, depot=depot)
    # Doors that still run on their first cable: their wave is to come.
    for _door in range(40):
        make_lives(
            door=make_running_door(depot=depot, cycles_a_week=60),
            what=component("coil_cable"),
            ends=[],
        )
    compute()
    [wave] = shown(sign_in()).waves
    assert "The wave: most in the four weeks from" in wave.sentence


def test_of_many_doors_some_are_chosen_and_the_page_says_so(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch, one_task: None
) -> None:
    depot = make_depot()
    for _door in range(8):
        make_running_door(depot=depot)
    compute()
    whole = shown(sign_in())
    monkeypatch.setattr(work_base, "MOST_DOORS", 4)
    some = shown(sign_in())
    assert "Worked out from 4 doors, chosen evenly from the 8 in service" in some.left_out
    # Alike doors: the mean over the draws stays near that of all.
    hours = [float(page.depots[0].value) for page in (whole, some)]
    assert hours[1] == pytest.approx(hours[0], rel=0.35)


def test_queries_stay_as_the_fleet_grows(sign_in: SignIn) -> None:
    client, depot = sign_in(), make_depot()

    def queries() -> int:
        compute()
        client.get(PAGE)
        with CaptureQueriesContext(connection) as captured:
            shown(client, usage="1.1")
        return len(captured)

    make_wearing_fleet(doors=2, depot=depot)
    few = queries()
    make_wearing_fleet(doors=4, depot=depot)
    make_running_door(depot=make_depot())
    assert queries() == few
