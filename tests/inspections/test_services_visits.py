"""Visits: planned, begun, handed over, not presented; ticks and the final check."""

from datetime import date, timedelta

import pytest

from fleetdoors.models import MaintenanceTask
from inspections.models import (
    HoldReason,
    JobKind,
    SafetyTick,
    Tick,
    Visit,
    VisitJob,
    VisitState,
)
from inspections.services.final_checks import record_final_check
from inspections.services.safety import (
    TickRefusedError,
    missing_ticks,
    set_tick,
    ticks_that_apply,
)
from inspections.services.visits import (
    Jobs,
    VisitRefusedError,
    add_jobs,
    hand_over_visit,
    mark_not_presented,
    open_visit,
    plan_visit,
)
from tests.factories import (
    NOW,
    component,
    make_door,
    make_fault,
    make_loose_door,
    make_user,
    task,
)
from tests.truck_factories import (
    make_defect_report,
    make_final_check,
    make_follow_up,
    make_hold,
    make_open_visit,
    make_spring_word,
    make_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
DAY = date(2026, 11, 26)
ALL_RIGHT = {
    "three_cycles": True,
    "reverses": True,
    "ajar_lamp": True,
    "manual_release": True,
    "counter_advances": True,
}


def planned(*codes: str) -> Visit:
    tasks = list(MaintenanceTask.objects.filter(code__in=codes))
    return plan_visit(door=make_door(), planned_on=DAY, jobs=Jobs(tasks=tasks), entered_at=NOW)


def test_a_plan_holds_truck_depot_and_every_kind_of_job() -> None:
    door = make_door()
    jobs = Jobs(
        tasks=[task("LUB")],
        faults=[make_fault(door=door)],
        follow_ups=[make_follow_up(door=door)],
        defect_reports=[make_defect_report(door=door)],
    )
    visit = plan_visit(door=door, planned_on=DAY, jobs=jobs, entered_at=NOW)
    assert visit.truck == door.mountings.get().truck
    assert visit.depot == visit.truck.depot
    assert {job.kind for job in visit.jobs.all()} == set(JobKind.values)


def test_a_second_plan_for_the_day_adds_to_the_first() -> None:
    visit = planned("LUB")
    again = plan_visit(
        door=visit.door,
        planned_on=DAY,
        jobs=Jobs(tasks=[task("LUB"), task("REV")]),
        entered_at=NOW,
    )
    assert again == visit
    assert visit.jobs.count() == 2


def test_a_door_on_no_truck_is_visited_too() -> None:
    visit = plan_visit(door=make_loose_door(), planned_on=DAY, jobs=Jobs(), entered_at=NOW)
    assert (visit.truck, visit.depot) == (None, None)


def test_a_job_of_another_door_is_refused_whole() -> None:
    jobs = Jobs(tasks=[task("LUB")], faults=[make_fault(door=make_door())])
    with pytest.raises(VisitRefusedError, match="belongs to the door"):
        plan_visit(door=make_door(), planned_on=DAY, jobs=jobs, entered_at=NOW)
    assert Visit.objects.count() == VisitJob.objects.count() == 0


def test_a_visit_begins_once() -> None:
    visit, person = planned("LUB"), make_user()
    begun = open_visit(visit=visit, technician=person, started_at=NOW)
    again = open_visit(visit=visit, technician=make_user(), started_at=NOW + timedelta(hours=1))
    assert (begun.state, again.technician, again.started_at) == ("open", person, NOW)


def test_a_door_has_one_open_visit() -> None:
    first = make_open_visit()
    second = make_visit(door=first.door, planned_on=DAY + timedelta(days=1))
    with pytest.raises(VisitRefusedError, match="one open visit"):
        open_visit(visit=second, technician=make_user(), started_at=NOW)
    assert Visit.objects.get(pk=second.pk).state == VisitState.PLANNED


def test_an_ended_visit_neither_begins_nor_takes_jobs() -> None:
    visit = planned("LUB")
    mark_not_presented(visit=visit, reason="on the road", again_on=None, entered_at=NOW)
    with pytest.raises(VisitRefusedError, match="truck did not come"):
        open_visit(visit=visit, technician=make_user(), started_at=NOW)
    with pytest.raises(VisitRefusedError, match="no more jobs"):
        add_jobs(visit=visit, jobs=Jobs(tasks=[task("REV")]))
    assert visit.jobs.count() == 1


def test_a_handover_changes_hands_and_stays_on_record() -> None:
    visit, heir = make_open_visit(), make_user()
    before = visit.technician
    hand_over_visit(visit=visit, to_person=heir, note="fuse is out", handed_at=NOW)
    assert Visit.objects.get(pk=visit.pk).technician == heir
    row = visit.handovers.get()
    assert (row.from_person, row.to_person, row.note) == (before, heir, "fuse is out")


def test_a_handover_needs_an_open_visit_and_another_person() -> None:
    visit = make_open_visit()
    assert visit.technician is not None
    with pytest.raises(VisitRefusedError, match="already") as refused:
        hand_over_visit(visit=visit, to_person=visit.technician, note="", handed_at=NOW)
    assert refused.value.field == "to_person"
    with pytest.raises(VisitRefusedError, match="Only an open visit"):
        hand_over_visit(visit=planned(), to_person=make_user(), note="", handed_at=NOW)
    assert visit.handovers.count() == 0


def test_a_truck_that_did_not_come_is_planned_anew_with_its_jobs() -> None:
    visit = planned("LUB", "REV")
    later = DAY + timedelta(days=7)
    again = mark_not_presented(visit=visit, reason="on tour", again_on=later, entered_at=NOW)
    assert again is not None
    assert (again.planned_on, again.jobs.count()) == (later, 2)
    assert Visit.objects.get(pk=visit.pk).reason == "on tour"


@pytest.mark.parametrize(
    ("reason", "again_on", "field"), [("  ", None, "reason"), ("x", date(2026, 1, 1), "again_on")]
)
def test_not_presented_says_why_and_not_an_earlier_day(
    reason: str, again_on: date | None, field: str
) -> None:
    visit = planned("LUB")
    with pytest.raises(VisitRefusedError) as refused:
        mark_not_presented(visit=visit, reason=reason, again_on=again_on, entered_at=NOW)
    assert refused.value.field == field
    assert Visit.objects.get(pk=visit.pk).state == VisitState.PLANNED


# Safety ticks


def test_which_ticks_apply() -> None:
    assert ticks_that_apply(planned("CTR")) == [Tick.CHOCKS, Tick.CLEAR_OPENING]
    assert ticks_that_apply(planned("LUB")) == [Tick.CHOCKS, Tick.CLEAR_OPENING, Tick.ISOLATION]
    assert Tick.TOOLS in ticks_that_apply(planned("ELE"))
    assert Tick.SPRING_TRAINED in ticks_that_apply(planned("REN"))
    assert Tick.SPRING_TRAINED not in ticks_that_apply(planned("LFT", "BAL"))


@pytest.mark.parametrize(("code", "spring_work"), [("spring", True), ("coil_cable", False)])
def test_a_fault_at_the_spring_asks_for_training(code: str, *, spring_work: bool) -> None:
    door = make_door()
    fault = make_fault(door=door, component=component(code))
    visit = plan_visit(door=door, planned_on=DAY, jobs=Jobs(faults=[fault]), entered_at=NOW)
    assert Tick.ISOLATION in ticks_that_apply(visit)
    assert (Tick.SPRING_TRAINED in ticks_that_apply(visit)) is spring_work


def test_a_failed_balance_asks_for_training() -> None:
    door = make_door()
    jobs = Jobs(follow_ups=[make_follow_up(door=door, task_asked=task("BAL"))])
    visit = plan_visit(door=door, planned_on=DAY, jobs=jobs, entered_at=NOW)
    assert Tick.SPRING_TRAINED in ticks_that_apply(visit)


def test_a_tick_is_set_once() -> None:
    visit, person = make_open_visit(), make_user()
    first = set_tick(visit=visit, tick=Tick.CHOCKS, ticked_at=NOW, ticked_by=person)
    again = set_tick(visit=visit, tick=Tick.CHOCKS, ticked_at=NOW, ticked_by=make_user())
    assert first == again
    assert missing_ticks(visit) == [Tick.CLEAR_OPENING]


def test_another_tick_is_skipped_with_a_reason_that_stays() -> None:
    visit = make_open_visit()
    tick = set_tick(
        visit=visit,
        tick=Tick.CHOCKS,
        ticked_at=NOW,
        ticked_by=make_user(),
        skipped_reason="truck stands on the lift",
    )
    assert tick.is_skipped
    assert Tick.CHOCKS not in missing_ticks(visit)


@pytest.mark.parametrize("tick", [Tick.ISOLATION, Tick.SPRING_TRAINED])
def test_isolation_and_training_are_never_skipped(tick: Tick) -> None:
    person = make_user()
    make_spring_word(person=person)
    with pytest.raises(TickRefusedError, match="never skipped"):
        set_tick(
            visit=make_open_visit(),
            tick=tick,
            ticked_at=NOW,
            ticked_by=person,
            skipped_reason="no time",
        )
    assert SafetyTick.objects.count() == 0


def test_training_is_ticked_by_those_on_record_and_within_their_time() -> None:
    visit, person = make_open_visit(), make_user()
    make_spring_word(person=person, until_on=NOW.date() - timedelta(days=1))
    with pytest.raises(TickRefusedError, match="authorized"):
        set_tick(visit=visit, tick=Tick.SPRING_TRAINED, ticked_at=NOW, ticked_by=person)
    make_spring_word(person=person)
    set_tick(visit=visit, tick=Tick.SPRING_TRAINED, ticked_at=NOW, ticked_by=person)
    assert visit.safety_ticks.count() == 1


def test_an_unknown_tick_and_a_visit_not_begun_are_refused() -> None:
    with pytest.raises(TickRefusedError, match="no such tick"):
        set_tick(visit=make_open_visit(), tick="luck", ticked_at=NOW, ticked_by=make_user())
    with pytest.raises(TickRefusedError, match="open visit"):
        set_tick(visit=planned(), tick=Tick.CHOCKS, ticked_at=NOW, ticked_by=make_user())


# The final check


def test_a_failed_final_check_stays_beside_the_next() -> None:
    visit, person = make_open_visit(), make_user()
    make_final_check(visit=visit, reverses=False)
    check = record_final_check(
        visit=visit,
        items=ALL_RIGHT,
        checked_at=NOW + timedelta(minutes=5),
        checked_by=person,
        entered_at=NOW,
    )
    assert [each.has_passed for each in visit.final_checks.newest_first()] == [True, False]
    assert visit.final_checks.newest_first().first() == check


@pytest.mark.parametrize("because", [HoldReason.SPRING_OR_CABLE, HoldReason.RUNS_BY_ITSELF])
def test_no_powered_test_while_a_hold_forbids_it(because: str) -> None:
    visit = make_open_visit()
    make_hold(door=visit.door, because=because)
    with pytest.raises(VisitRefusedError, match="not run while a hold stands"):
        record_final_check(
            visit=visit, items=ALL_RIGHT, checked_at=NOW, checked_by=make_user(), entered_at=NOW
        )
    assert visit.final_checks.count() == 0


def test_every_item_of_the_final_check_is_answered_on_an_open_visit() -> None:
    for visit, items in ((make_open_visit(), {"reverses": True}), (planned(), ALL_RIGHT)):
        with pytest.raises(VisitRefusedError):
            record_final_check(
                visit=visit, items=items, checked_at=NOW, checked_by=make_user(), entered_at=NOW
            )
