"""The page of the week's plan and those of the hours that it keeps to."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import PlanRun, Proposal, ProposedVisit
from fleetdoors.models import ClosedDay, DepotWeekday, PersonWeekday, Role, TruckWeekday
from inspections.models import NightChoice, PlanAcceptance, SpringAuthorisation, Visit, VisitState
from tests.factories import NOW, make_depot, make_user
from tests.pages.planner_rows import make_run
from tests.schedule_factories import make_due_door, make_planned, night, tasks_of
from tests.truck_factories import make_spring_word, make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


@pytest.fixture
def depot():
    return make_depot(code="NORTH")


@pytest.fixture
def run():
    return make_run()


@pytest.fixture
def planner(sign_in):
    return sign_in(Role.PLANNER)


def doors_of(run, depot, count: int, **due: int):
    return [
        make_due_door(run=run, depot=depot, number=f"{depot.code}{k}", due=due or {"LUB": 1})
        for k in range(count)
    ]


def propose(client, depot) -> Proposal:
    answer = client.post(reverse("schedule-propose"), {"depot": depot.code})
    assert answer.status_code == 302
    return Proposal.objects.open_at(depot.pk).get()


def visit_of(proposal: Proposal, door) -> ProposedVisit:
    return ProposedVisit.objects.get(proposal=proposal, door=door)


def page(client, depot) -> str:
    answer = client.get("/schedule/", {"depot": depot.code})
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_empty_fleet_says_what_to_do_first(planner):
    assert "The first steps" in planner.get("/schedule/").content.decode()


def test_a_depot_without_trucks_says_so(planner, run, depot):
    doors_of(run, depot, 1)
    empty = make_depot(code="EMPTY")
    assert "No truck lives here" in page(planner, empty)


@pytest.mark.parametrize(("role", "status"), [(Role.TECHNICIAN, 403), (Role.BUYER, 403)])
def test_plans_are_the_planners(sign_in, role, status):
    assert sign_in(role).get(reverse("schedule")).status_code == status


def test_what_is_planned_is_shown_until_something_is_proposed(planner, run, depot):
    [door] = doors_of(run, depot, 1)
    make_planned(door, -1, "LUB")
    text = page(planner, depot)
    assert "What is planned" in text
    assert "left from Tue 24 Nov" in text
    proposal = propose(planner, depot)
    text = page(planner, depot)
    assert "Nothing is planned before you accept it" in text
    assert "A quick plan" in text
    assert "it was not done on its night" in text
    assert Visit.objects.get(door=door).planned_on == night(-1)
    planner.post(reverse("schedule-put-away", args=[proposal.pk]))
    assert "What is planned" in page(planner, depot)


def test_a_plan_is_proposed_accepted_and_taken_back(planner, run, depot):
    doors = doors_of(run, depot, 3, ANN=0, LUB=0)
    proposal = propose(planner, depot)
    assert "3 added." in page(planner, depot)
    planner.post(reverse("schedule-accept", args=[proposal.pk]))
    planned = Visit.objects.filter(state=VisitState.PLANNED)
    assert planned.count() == 3
    assert tasks_of(planned[0]) == {"ANN"}
    assert planned[0].planned_on == night(0)
    # The technician's day shows them.
    assert doors[0].mountings.get().truck.fleet_number in planner.get("/round/").content.decode()
    acceptance = PlanAcceptance.objects.get()
    assert acceptance.steps.first().why == "due Wed 25 Nov"
    assert "Take it back" in page(planner, depot)
    planner.post(reverse("schedule-take-back", args=[acceptance.pk]))
    assert not Visit.objects.filter(state=VisitState.PLANNED).exists()


def test_an_outdated_proposal_is_said_and_not_accepted(planner, run, depot):
    door, other = doors_of(run, depot, 2)
    proposal = propose(planner, depot)
    make_planned(other, 3, "LUB")
    assert "Propose anew to see them in it" in page(planner, depot)
    answer = planner.post(reverse("schedule-accept", args=[proposal.pk]), follow=True)
    assert "Nothing was changed" in answer.content.decode()
    assert not Visit.objects.filter(door=door).exists()


def move(client, proposal, visit, days: int) -> str:
    answer = client.post(
        reverse("schedule-move", args=[proposal.pk]),
        {"visit": visit.pk, "night": night(days).isoformat()},
        follow=True,
    )
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_visit_is_moved_kept_and_released(planner, run, depot):
    [door] = doors_of(run, depot, 1, LUB=3)
    proposal = propose(planner, depot)
    visit = visit_of(proposal, door)
    text = move(planner, proposal, visit, 5)
    assert "stands on Mon 30 Nov and is kept there" in text
    assert "2 days late" in text
    assert NightChoice.objects.standing().get().chosen_on == night(5)
    again = propose(planner, depot)
    assert visit_of(again, door).night_on == night(5)
    planner.post(reverse("schedule-release", args=[again.pk]), {"visit": visit_of(again, door).pk})
    assert visit_of(propose(planner, depot), door).night_on <= night(3)


def test_a_visit_planned_by_hand_is_released_too(planner, run, depot):
    [door] = doors_of(run, depot, 1, LUB=1)
    make_planned(door, 5, "LUB")
    proposal = propose(planner, depot)
    assert visit_of(proposal, door).night_on == night(5)
    planner.post(
        reverse("schedule-release", args=[proposal.pk]), {"visit": visit_of(proposal, door).pk}
    )
    assert visit_of(propose(planner, depot), door).night_on <= night(1)


def test_hard_rules_refuse_a_move_and_say_why(planner, run, depot):
    spring = make_due_door(run=run, depot=depot, number="S", due={"REN": 0})
    full = [make_due_door(run=run, depot=depot, number=f"F{k}", due={"ANN": 0}) for k in range(6)]
    person = make_user(depots=[depot])
    make_spring_word(person=person)
    PersonWeekday.objects.create(person=person, depot=depot, weekday=night(3).weekday(), hours=4)
    ClosedDay.objects.create(depot=depot, closed_on=night(4))
    proposal = propose(planner, depot)
    first = visit_of(proposal, spring)
    assert first.night_on == night(3)
    assert "Nobody trained for spring work is there" in move(planner, proposal, first, 5)
    assert "The bay is shut" in move(planner, proposal, first, 4)
    there = [visit_of(proposal, door) for door in full]
    late = next(visit for visit in there if visit.night_on == night(1))
    assert "too much" in move(planner, proposal, late, 0)
    assert "not one of this plan" in move(planner, proposal, late, 20)
    assert [visit_of(proposal, door).night_on for door in full] == [v.night_on for v in there]
    assert not NightChoice.objects.exists()


def test_a_truck_that_is_usually_away_is_warned_of_and_moved(planner, run, depot):
    [door] = doors_of(run, depot, 1, LUB=6)
    TruckWeekday.objects.create(
        truck=door.mountings.get().truck, weekday=night(2).weekday(), is_home=False
    )
    proposal = propose(planner, depot)
    assert "make sure that it comes" in move(planner, proposal, visit_of(proposal, door), 2)
    assert visit_of(propose(planner, depot), door).night_on == night(2)


def test_visits_of_one_truck_moved_into_one_night_become_one(planner, run, depot):
    [door] = doors_of(run, depot, 1, LUB=0)
    proposal = propose(planner, depot)
    first = visit_of(proposal, door)
    second = ProposedVisit.objects.create(
        proposal=proposal, door=door, truck_id=first.truck_id, night_on=night(4)
    )
    job = first.jobs.get()
    job.pk = None
    job.visit = second
    job.save()
    move(planner, proposal, second, (first.night_on - night(0)).days)
    merged = visit_of(proposal, door)
    assert [each.is_along for each in merged.jobs.all()] == [False, True]


def test_another_depots_plan_is_not_found(sign_in, run, depot):
    doors_of(run, depot, 1)
    proposal = propose(sign_in(Role.PLANNER), depot)
    stranger = sign_in(Role.PLANNER, depots=[make_depot(code="SOUTH")])
    assert stranger.get("/schedule/", {"depot": "NORTH"}).status_code == 404
    for name in ("schedule-move", "schedule-release", "schedule-accept", "schedule-put-away"):
        assert stranger.post(reverse(name, args=[proposal.pk])).status_code == 404
    assert stranger.get(reverse("depot-hours", args=["NORTH"])).status_code == 404


def test_what_found_no_night_is_said_with_its_reason(planner, run, depot):
    doors_of(run, depot, 1, REN=0)
    propose(planner, depot)
    text = page(planner, depot)
    assert "What found no night" in text
    assert "nobody trained for spring work is there" in text


def test_a_full_run_tells_its_progress(planner, run, depot, monkeypatch):
    doors_of(run, depot, 2)
    begun = []
    monkeypatch.setattr(
        "analytics.views.schedule.start_full_run", lambda run, depots, now: begun.append(depots)
    )
    answer = planner.post(reverse("schedule-run"), {"depot": depot.code, "everywhere": "1"})
    asked = PlanRun.objects.get()
    assert begun == [[depot]]
    assert answer["Location"].startswith(reverse("schedule-progress", args=[asked.pk]))
    assert "0 of 1" in planner.get(answer["Location"]).content.decode()
    asked.failed = True
    asked.save()
    assert "came to nothing" in planner.get(answer["Location"]).content.decode()
    PlanRun.objects.update(failed=False, depots_done=1, finished_at=NOW)
    done = planner.get(answer["Location"], headers={"HX-Request": "true"})
    assert "1 of 1" in done.content.decode()
    assert planner.get(answer["Location"]).status_code == 302


def test_queries_stay_when_rows_triple(planner, run, depot):
    def counted() -> int:
        propose(planner, depot)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            page(planner, depot)
        return len(queries)

    doors_of(run, depot, 2)
    few = counted()
    for number in range(4):
        make_due_door(run=run, depot=depot, number=f"more{number}", due={"LUB": 0, "SEN": 1})
    assert counted() == few


def test_a_depots_week_is_said_and_kept(planner, depot):
    address = reverse("depot-hours", args=[depot.code])
    assert planner.get(address).status_code == 200
    week = {f"day{k}-bay_hours": str(k) for k in range(7)}
    week |= {f"day{k}-is_home": "on" for k in range(6)}
    week |= {"day0-home_from": "18:00", "day0-home_until": "05:00"}
    assert planner.post(address, week).status_code == 302
    days = list(DepotWeekday.objects.order_by("weekday"))
    assert [day.bay_hours for day in days] == [0, 1, 2, 3, 4, 5, 6]
    assert [day.home_minutes for day in days] == [660.0] + [1440.0] * 5 + [0.0]
    half = planner.post(address, week | {"day1-home_from": "18:00"})
    assert "a beginning and an end" in half.content.decode()
    assert DepotWeekday.objects.get(weekday=1).home_from is None


def test_the_bay_is_shut_and_opened_again(planner, depot):
    address = reverse("depot-closed-day", args=[depot.code])
    planner.post(address, {"closed_on": night(3).isoformat(), "reason": "stocktaking"})
    day = ClosedDay.objects.get()
    assert (day.closed_on, day.reason) == (night(3), "stocktaking")
    assert "stocktaking" in planner.get(reverse("depot-hours", args=[depot.code])).content.decode()
    planner.post(address, {"open": day.pk})
    assert not ClosedDay.objects.exists()
    assert planner.post(address, {"closed_on": "never"}).status_code == 302


def test_trained_people_are_named_timed_and_withdrawn(planner, depot):
    person = make_user(depots=[depot], username="kim")
    address = reverse("spring-word-new")
    assert planner.get(address).status_code == 200
    facts = {
        "person": person.pk,
        "from_on": night(0).isoformat(),
        "until_on": night(-1).isoformat(),
        "granted_by": "Lead",
    }
    assert "ends after it begins" in planner.post(address, facts).content.decode()
    planner.post(address, facts | {"until_on": night(300).isoformat()})
    word = SpringAuthorisation.objects.get()
    hours = {f"person{person.pk}-day2": "6.5"}
    planner.post(reverse("depot-people", args=[depot.code]), hours)
    assert PersonWeekday.objects.get().hours == 6.5
    planner.post(reverse("depot-people", args=[depot.code]), {f"person{person.pk}-day2": "25"})
    assert PersonWeekday.objects.get().hours == 6.5
    planner.post(reverse("spring-word-withdraw", args=[word.pk]))
    assert not SpringAuthorisation.objects.valid_on(night(1)).exists()


def test_a_truck_gets_hours_of_its_own_and_loses_them(planner, run, depot):
    [door] = doors_of(run, depot, 1)
    truck = door.mountings.get().truck
    address = reverse("truck-hours", args=[truck.fleet_number])
    assert planner.get(address).status_code == 200
    planner.post(address, {"day5-is_home": "on"})
    assert [day.is_home for day in TruckWeekday.objects.order_by("weekday")] == (
        [False] * 5 + [True, False]
    )
    planner.post(address, {"as_depot": "1"})
    assert not TruckWeekday.objects.exists()


def test_the_reason_for_another_night_is_asked_on_the_plan_and_kept(planner, run, depot):
    [door] = doors_of(run, depot, 1)
    visit = make_visit(
        door=door, planned_on=night(-3), state=VisitState.NOT_PRESENTED, reason="stuck in town"
    )
    address = reverse("visit-off-plan", args=[visit.pk])
    assert address in page(planner, depot)
    assert "stuck in town" in planner.get(address).content.decode()
    assert "Say what the other reason was" in (
        planner.post(address, {"cause": "other", "note": ""}).content.decode()
    )
    planner.post(address, {"cause": "truck_out", "note": ""})
    assert visit.off_plan_reasons.get().cause == "truck_out"
    assert address not in page(planner, depot)


def test_a_far_or_past_first_night_is_brought_back(planner, run, depot):
    doors_of(run, depot, 1)
    for asked in (night(-30), night(1000), "nonsense"):
        answer = planner.post(
            reverse("schedule-propose"), {"depot": depot.code, "first": str(asked), "nights": "9"}
        )
        assert answer.status_code == 302
        plan = Proposal.objects.open_at(depot.pk).get()
        assert night(0) <= plan.first_on <= night(0) + timedelta(days=366)
        assert plan.nights == 7
