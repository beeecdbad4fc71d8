"""From the record to a proposed plan: jobs, hours, what people chose, and what is kept."""

from __future__ import annotations

from datetime import time, timedelta

import pytest

from analytics.models import Proposal
from analytics.scheduling.board import Board, board_of
from analytics.scheduling.propose import ask_for_full_run, propose_at_once, work_out
from fleetdoors.models import ClosedDay, Depot, DepotWeekday, LayUp, PersonWeekday, TruckWeekday
from inspections.models import JobKind, VisitState
from tests.factories import NOW, make_depot, make_fault, make_user, task
from tests.pages.planner_rows import make_run
from tests.schedule_factories import (
    TODAY,
    make_choice,
    make_due_door,
    make_planned,
    night,
)
from tests.truck_factories import (
    make_defect_report,
    make_follow_up,
    make_hold,
    make_spring_word,
    make_visit,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def depot() -> Depot:
    return make_depot(code="NORTH")


@pytest.fixture
def run():
    return make_run()


def propose(depot: Depot, nights: int = 7) -> Board:
    proposal = propose_at_once(
        depot=depot, first_on=TODAY, nights=nights, asked_at=NOW, asked_by=make_user()
    )
    return board_of(proposal)


def placed(board: Board) -> dict[str, tuple[int, set[str]]]:
    """Night from today and own tasks of each door's visit, by serial."""
    return {
        visit.row.door.serial: (
            (visit.row.night_on - TODAY).days,
            {job.task.code if job.task else job.kind for job in visit.own},
        )
        for visit in board.visits()
    }


def left_out(board: Board) -> dict[str, set[int]]:
    return {v.row.door.serial: {job.why_not for job in v.jobs} for v in board.left_out}


def test_due_tasks_of_a_truck_become_one_visit_and_nested_ones_go_along(depot, run):
    make_due_door(run=run, depot=depot, number="1", due={"ANN": 2, "LUB": 1, "REV": 3, "RBT": 2})
    board = propose(depot)
    [visit] = list(board.visits())
    assert {job.task.code for job in visit.own} == {"ANN"}
    assert {job.task.code for job in visit.jobs if job.is_along} == {"LUB", "REV", "RBT"}
    assert visit.minutes == 120 + 22
    assert visit.row.night_on <= night(1)


def test_findings_faults_reports_and_holds_are_work_too(depot, run):
    doors = [make_due_door(run=run, depot=depot, number=str(k), due={}) for k in range(4)]
    make_follow_up(door=doors[0], task_asked=task("SEN"))
    fault = make_fault(door=doors[1])
    fault.entered_by = make_user()
    fault.save()
    make_fault(door=doors[1])  # came with an import: history
    make_defect_report(door=doors[2])
    make_hold(door=doors[3])
    board = propose(depot)
    kinds = {v.row.door.serial: [job.kind for job in v.jobs] for v in board.visits()}
    assert kinds["D-0"] == [JobKind.FOLLOW_UP]
    assert kinds["D-1"] == [JobKind.FAULT]
    assert kinds["D-2"] == [JobKind.DEFECT]
    held = {**kinds, **{v.row.door.serial: [j.kind for j in v.jobs] for v in board.left_out}}
    assert held["D-3"] == ["hold"]
    # A hold is no job of a visit: the visit alone is planned.
    assert all(kind != "hold" for v in board.wanted() for kind, _pk in v.jobs)


def test_a_closed_day_and_the_hours_of_each_weekday_are_kept(depot, run):
    for number in range(6):
        make_due_door(run=run, depot=depot, number=str(number), due={"LUB": -3})
    ClosedDay.objects.create(depot=depot, closed_on=TODAY)
    DepotWeekday.objects.create(depot=depot, weekday=night(1).weekday(), bay_hours=1.5)
    board = propose(depot, nights=3)
    assert [each.bay_minutes for each in board.nights] == [0.0, 90.0, 480.0]
    assert [len(each.visits) for each in board.nights] == [0, 2, 4]


def test_a_truck_is_visited_while_it_is_home_and_no_longer(depot, run):
    short = make_due_door(run=run, depot=depot, number="1", due={"ANN": 0})
    truck = short.mountings.get().truck
    for weekday in range(7):
        TruckWeekday.objects.create(
            truck=truck,
            weekday=weekday,
            is_home=weekday != TODAY.weekday(),
            home_from=time(22) if weekday != night(3).weekday() else time(18),
            home_until=time(0) if weekday != night(3).weekday() else time(5),
        )
    # Two hours a night are too short for the full inspection; once it is eleven.
    assert placed(propose(depot)) == {"D-1": (3, {"ANN"})}


def test_a_truck_laid_up_is_not_planned(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 0})
    LayUp.objects.create(truck=door.mountings.get().truck, from_on=TODAY - timedelta(days=5))
    board = propose(depot)
    assert placed(board) == {}
    assert left_out(board) == {"D-1": {1}}


def test_spring_work_kept_without_anybody_trained_leaves_no_room_to_others(depot, run):
    """Three renewals stand on a night by hand and find nobody: their hours are not given away."""
    for number in range(3):
        door = make_due_door(run=run, depot=depot, number=f"K{number}", due={"REN": 0, "LUB": 0})
        make_planned(door, 0, "REN", "LUB")
    for number in range(20):
        make_due_door(run=run, depot=depot, number=str(number), due={"LUB": 0})
    board = propose(depot, nights=1)
    [tonight] = board.nights
    assert tonight.bay_minutes == 480.0
    assert tonight.minutes <= tonight.bay_minutes
    assert {"D-K0", "D-K1", "D-K2"} <= set(placed(board))
    assert all(codes == {"LUB"} for _night, codes in placed(board).values())


def test_spring_work_waits_for_the_night_of_a_trained_person(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"REN": 0})
    board = propose(depot)
    assert placed(board) == {}
    assert left_out(board) == {door.serial: {3}}
    person = make_user(depots=[depot])
    make_spring_word(person=person)
    PersonWeekday.objects.create(person=person, depot=depot, weekday=night(2).weekday(), hours=4)
    board = propose(depot)
    assert placed(board) == {"D-1": (2, {"REN"})}
    assert [each.trained_minutes for each in board.nights] == [0, 0, 240, 0, 0, 0, 0]


def test_a_task_is_not_pulled_below_half_of_its_interval(depot, run):
    # Done 60 days ago with 90 days between: half is over. LUB at 4,870 of 5,000 is past half too.
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 2})
    [visit] = list(propose(depot).visits())
    assert visit.jobs[0].earliest_on <= TODAY
    row = door.pk
    from analytics.models import DueTask

    DueTask.objects.filter(door=row).update(
        last_done_on=TODAY - timedelta(days=10), last_done_cycles=4_800.0, due_on=night(12)
    )
    board = propose(depot, nights=28)
    [visit] = list(board.visits())
    assert visit.jobs[0].earliest_on == night(35) or visit.row.night_on >= night(9)


def test_a_visit_planned_by_hand_stays_with_all_its_work(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 0})
    make_planned(door, 4, "LUB", "SEA")
    board = propose(depot)
    assert placed(board) == {"D-1": (4, {"LUB", "SEA"})}
    assert next(iter(board.visits())).row.is_chosen


def test_a_visit_planned_for_a_later_week_keeps_its_work(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 2})
    make_planned(door, 9, "LUB")
    board = propose(depot)
    assert placed(board) == {}
    assert left_out(board) == {}


def test_a_chosen_night_is_kept(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 0, "SEN": 1})
    make_choice(door=door, days=5)
    assert placed(propose(depot)) == {"D-1": (5, {"LUB", "SEN"})}


def test_what_people_put_into_a_night_stands_though_it_exceeds_the_hours(depot, run):
    for number in range(4):
        door = make_due_door(run=run, depot=depot, number=str(number), due={"ANN": 0})
        make_planned(door, 1, "ANN")
    board = propose(depot)
    second = board.nights[1]
    assert (len(second.visits), second.minutes, second.bay_minutes) == (4, 4 * 142, 480)


def test_an_open_visit_takes_its_time_and_is_not_planned_again(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": -1})
    visit = make_planned(door, 0, "LUB")
    visit.state, visit.started_at, visit.technician = VisitState.OPEN, NOW, make_user()
    visit.save()
    board = propose(depot)
    [there] = list(board.visits())
    assert there.row.is_open
    assert board.wanted() == []


def test_a_plan_keeps_the_night_that_people_were_told(depot, run):
    door = make_due_door(run=run, depot=depot, number="1", due={"LUB": 5})
    first = propose(depot)
    [visit] = list(first.visits())
    from analytics.scheduling.accepting import accept_proposal

    accept_proposal(proposal=first.proposal, why={}, accepted_at=NOW, accepted_by=make_user())
    again = propose(depot)
    assert placed(again)[door.serial][0] == (visit.row.night_on - TODAY).days


def test_the_full_run_plans_every_depot_and_is_no_dearer(run):
    depots = [make_depot(code=code) for code in ("A", "B")]
    for each in depots:
        for number in range(5):
            make_due_door(
                run=run, depot=each, number=f"{each.code}{number}", due={"LUB": number - 2}
            )
    quick = {each.pk: propose(each).proposal for each in depots}
    told: list[int] = []
    asked = ask_for_full_run(
        depots=depots, first_on=TODAY, nights=7, asked_at=NOW, asked_by=make_user()
    )
    work_out(asked, depots, now=NOW, done=told.append)
    asked.refresh_from_db()
    assert (sorted(told), asked.depots_done, asked.finished_at) == ([1, 2], 2, NOW)
    for each in depots:
        [plan] = Proposal.objects.open_at(each.pk)
        assert plan.is_full
        assert plan.cost <= quick[each.pk].cost + 1e-6
        assert plan.gap <= 0.0101


def test_nothing_is_planned_where_nothing_was_computed(depot):
    make_visit()
    board = propose(depot)
    assert placed(board) == {}
