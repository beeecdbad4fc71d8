"""Plans accepted and taken back, nights chosen by people, and reasons for other nights."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inspections.models import NightChoice, OffPlanKind, PlanAcceptance, Visit, VisitState
from inspections.services.off_plan import (
    ReasonRefusedError,
    give_reason,
    how_it_came_out,
    without_reason,
)
from inspections.services.planning import (
    AcceptedPlan,
    PlanRefusedError,
    accept_plan,
    choose_night,
    mark_of,
    planned_visits,
    take_back_plan,
    withdraw_choice,
)
from inspections.services.visits import open_visit
from tests.factories import NOW, make_depot, make_door, make_user
from tests.schedule_factories import TODAY, make_planned, night, tasks_of, wanted_visit
from tests.truck_factories import make_visit

pytestmark = pytest.mark.django_db


@pytest.fixture
def depot():
    return make_depot(code="NORTH")


@pytest.fixture
def planner():
    return make_user()


def accept(depot, planner, *wanted, seen=None, why=None) -> PlanAcceptance:
    plan = AcceptedPlan(depot, TODAY, night(6), wanted, why or {})
    mark = mark_of(planned_visits(depot, until=night(6))) if seen is None else seen
    return accept_plan(plan=plan, seen=mark, accepted_at=NOW, accepted_by=planner)


def standing(door) -> list[tuple[int, set[str]]]:
    """Nights from today and tasks of the door's planned visits."""
    visits = Visit.objects.filter(door=door, state=VisitState.PLANNED).order_by("planned_on")
    return [((visit.planned_on - TODAY).days, tasks_of(visit)) for visit in visits]


def test_a_plan_adds_moves_refills_drops_and_leaves_alone(depot, planner):
    new, moved, refilled, dropped, same = (make_door(depot=depot) for _ in range(5))
    was = make_planned(moved, 1, "LUB")
    make_planned(refilled, 2, "LUB", "BAL")
    gone = make_planned(dropped, 3, "LUB")
    kept = make_planned(same, 4, "ANN", "LUB")
    acceptance = accept(
        depot,
        planner,
        wanted_visit(new, 0, "ANN"),
        wanted_visit(moved, 5, "LUB"),
        wanted_visit(refilled, 2, "LUB", "SEN"),
        wanted_visit(same, 4, "ANN", along=("LUB", "BAL")),
        why={dropped.pk: "nothing of it is due"},
    )
    assert standing(new) == [(0, {"ANN"})]
    assert standing(moved) == [(5, {"LUB"})]
    assert standing(refilled) == [(2, {"LUB", "SEN"})]
    assert standing(dropped) == []
    assert standing(same) == [(4, {"ANN", "LUB"})]
    was.refresh_from_db()
    gone.refresh_from_db()
    kept.refresh_from_db()
    assert (was.state, was.planned_on) == (VisitState.DROPPED, night(1))
    assert was.reason.startswith("moved to")
    assert (gone.state, gone.reason) == (VisitState.DROPPED, "nothing of it is due")
    assert kept.state == VisitState.PLANNED
    changes = sorted(acceptance.steps.values_list("change", flat=True))
    assert changes == ["added", "dropped", "moved", "refilled"]


def test_a_visit_left_from_before_is_moved_into_the_plan_and_one_of_later_nights_stays(
    depot, planner
):
    late, later = make_door(depot=depot), make_door(depot=depot)
    make_planned(late, -2, "LUB")
    make_planned(later, 9, "LUB")
    accept(depot, planner, wanted_visit(late, 1, "LUB"))
    assert standing(late) == [(1, {"LUB"})]
    assert standing(later) == [(9, {"LUB"})]


def test_another_depots_visits_are_not_touched(depot, planner):
    elsewhere = make_door()
    make_planned(elsewhere, 1, "LUB")
    accept(depot, planner)
    assert standing(elsewhere) == [(1, {"LUB"})]


def test_a_technician_keeps_a_visit_that_moves(depot, planner):
    door = make_door(depot=depot)
    visit = make_planned(door, 1, "LUB")
    visit.technician = planner
    visit.save()
    accept(depot, planner, wanted_visit(door, 3, "LUB"))
    assert Visit.objects.get(door=door, state=VisitState.PLANNED).technician == planner


def test_a_plan_made_before_something_changed_is_refused_whole(depot, planner):
    door = make_door(depot=depot)
    make_planned(door, 1, "LUB")
    seen = mark_of(planned_visits(depot, until=night(6)))
    make_planned(make_door(depot=depot), 2, "LUB")
    with pytest.raises(PlanRefusedError, match="propose a plan anew"):
        accept(depot, planner, wanted_visit(door, 3, "LUB"), seen=seen)
    assert standing(door) == [(1, {"LUB"})]
    assert not PlanAcceptance.objects.exists()


def test_a_plan_taken_back_leaves_everything_as_it_was(depot, planner):
    new, moved, refilled, dropped = (make_door(depot=depot) for _ in range(4))
    make_planned(moved, 1, "LUB")
    make_planned(refilled, 2, "LUB", "BAL")
    make_planned(dropped, 3, "LUB")
    doors = (new, moved, refilled, dropped)
    before = [standing(door) for door in doors]
    acceptance = accept(
        depot,
        planner,
        wanted_visit(new, 0, "ANN"),
        wanted_visit(moved, 5, "LUB"),
        wanted_visit(refilled, 2, "SEN"),
    )
    done = take_back_plan(acceptance=acceptance, undone_at=NOW, undone_by=planner)
    assert [standing(door) for door in doors] == before
    assert (done.put_back, done.left_alone) == (4, [])
    with pytest.raises(PlanRefusedError, match="already"):
        take_back_plan(acceptance=acceptance, undone_at=NOW, undone_by=planner)


def test_what_was_begun_since_is_left_alone(depot, planner):
    begun, other = make_door(depot=depot), make_door(depot=depot)
    make_planned(begun, 3, "LUB")
    acceptance = accept(
        depot, planner, wanted_visit(begun, 0, "LUB"), wanted_visit(other, 1, "LUB")
    )
    visit = Visit.objects.get(door=begun, state=VisitState.PLANNED)
    open_visit(visit=visit, technician=planner, started_at=NOW)
    done = take_back_plan(acceptance=acceptance, undone_at=NOW, undone_by=planner)
    assert [each.pk for each in done.left_alone] == [visit.pk]
    assert Visit.objects.get(pk=visit.pk).state == VisitState.OPEN
    assert standing(other) == []


def test_the_later_plan_is_taken_back_first(depot, planner):
    door = make_door(depot=depot)
    first = accept(depot, planner, wanted_visit(door, 1, "LUB"))
    accept(depot, planner, wanted_visit(door, 2, "LUB"))
    with pytest.raises(PlanRefusedError, match="later plan"):
        take_back_plan(acceptance=first, undone_at=NOW, undone_by=planner)
    assert standing(door) == [(2, {"LUB"})]


def test_a_phone_that_begins_a_replaced_visit_begins_the_one_in_its_place(depot, planner):
    door = make_door(depot=depot)
    old = make_planned(door, 0, "LUB")
    first = accept(depot, planner, wanted_visit(door, 3, "LUB"))
    take_back_plan(acceptance=first, undone_at=NOW, undone_by=planner)
    Visit.objects.filter(pk=old.pk).update(state=VisitState.DROPPED, reason="replaced")
    new = make_planned(door, 0, "LUB")
    old.refresh_from_db()
    begun = open_visit(visit=old, technician=planner, started_at=NOW)
    assert begun.pk == new.pk


def test_a_night_chosen_again_ends_the_choice_before(planner):
    door = make_door()
    choose_night(door=door, chosen_on=night(2), chosen_at=NOW, chosen_by=planner)
    choose_night(door=door, chosen_on=night(4), chosen_at=NOW, chosen_by=planner)
    [choice] = NightChoice.objects.standing()
    assert choice.chosen_on == night(4)
    assert NightChoice.objects.count() == 2
    withdraw_choice(door=door, night_on=night(4), withdrawn_at=NOW, withdrawn_by=planner)
    assert not NightChoice.objects.standing().exists()


@pytest.mark.parametrize(
    ("planned", "begun", "kind"),
    [
        (0, 0, None),
        (-1, 0, None),  # a night ends on the next morning
        (-2, 0, OffPlanKind.LATE),
        (1, 0, OffPlanKind.EARLY),
    ],
)
def test_how_a_closed_visit_came_out(planned, begun, kind):
    visit = make_visit(
        planned_on=night(planned),
        state=VisitState.CLOSED,
        started_at=NOW + timedelta(days=begun),
        closed_at=NOW + timedelta(days=begun, hours=1),
        signed_by="Kim",
    )
    assert how_it_came_out(visit) == kind


def test_reasons_are_asked_for_given_and_corrected(planner):
    visit = make_visit(planned_on=night(-3), state=VisitState.NOT_PRESENTED, reason="on the road")
    [asked] = without_reason(visit.depot, today=TODAY)
    assert (asked.visit.pk, asked.kind) == (visit.pk, OffPlanKind.NOT_PRESENTED)
    for cause, note, field in (("", "", "cause"), ("other", " ", "note")):
        with pytest.raises(ReasonRefusedError) as refused:
            give_reason(visit=visit, cause=cause, note=note, entered_at=NOW, entered_by=planner)
        assert refused.value.field == field
    give_reason(visit=visit, cause="parts", note="", entered_at=NOW, entered_by=planner)
    give_reason(visit=visit, cause="truck_out", note="", entered_at=NOW, entered_by=planner)
    assert without_reason(visit.depot, today=TODAY) == []
    assert [each.cause for each in visit.off_plan_reasons.in_force()] == ["truck_out"]
    assert visit.off_plan_reasons.count() == 2


def test_a_visit_in_its_night_takes_no_reason(planner):
    with pytest.raises(ReasonRefusedError, match="in its night"):
        give_reason(visit=make_visit(), cause="hours", note="", entered_at=NOW, entered_by=planner)
