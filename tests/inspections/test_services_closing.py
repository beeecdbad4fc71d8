"""A visit is closed whole or not at all: stock, fitted parts, faults, tasks, reports, sign-off."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from fleetdoors.models import DoorUnit, Fitment
from inspections.models import (
    DefectState,
    DefectStep,
    Fault,
    JobKind,
    PartUsed,
    Repair,
    TaskDone,
    Visit,
    VisitJob,
    VisitState,
)
from inspections.services.closing import SignOff, close_visit, repeats_of
from inspections.services.closing_rules import JobClosing
from inspections.services.faults import PartUse
from inspections.services.stock_now import on_hand_now
from inspections.services.visits import VisitRefusedError
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_part,
    make_reading,
    make_stock_count,
    make_user,
    task,
)
from tests.truck_factories import (
    make_defect_report,
    make_final_check,
    make_follow_up,
    make_hold,
    make_open_visit,
    make_tick,
    make_trace,
    make_visit,
)

TICKS = ("chocks", "clear_opening", "isolation", "tools", "spring_trained")
LATER = NOW + timedelta(hours=1)


pytestmark = pytest.mark.usefixtures("recompute_requests")


def ready_visit(door: DoorUnit | None = None, *, checked: bool = True) -> Visit:
    """An open visit with every tick set, and as a rule a final check that passed."""
    visit = make_open_visit(door=door)
    for tick in TICKS:
        make_tick(visit=visit, tick=tick)
    if checked:
        make_final_check(visit=visit)
    return visit


def add(visit: Visit, kind: JobKind, **target) -> VisitJob:
    return VisitJob.objects.create(visit=visit, kind=kind, **target)


def closed(visit: Visit, *closings: JobClosing, signed_by: str = "Kim") -> Visit:
    return close_visit(
        visit=visit,
        closings=closings,
        sign_off=SignOff(
            signed_by=signed_by, closed_at=LATER, entered_at=LATER, entered_by=make_user()
        ),
    )


def refused(visit: Visit, *closings: JobClosing, **told) -> VisitRefusedError:
    """The refusal; nothing is written beside it."""
    before = [model.objects.count() for model in (TaskDone, PartUsed, Repair, Fault, DefectStep)]
    with pytest.raises(VisitRefusedError) as error:
        closed(visit, *closings, **told)
    after = [model.objects.count() for model in (TaskDone, PartUsed, Repair, Fault, DefectStep)]
    assert before == after
    assert Visit.objects.get(pk=visit.pk).state == visit.state
    assert not visit.jobs.exclude(outcome="").exists()
    return error.value


@pytest.mark.django_db
def test_every_kind_of_job_ends_in_its_record() -> None:
    depot = make_depot()
    door = make_door(depot=depot)
    make_reading(door=door, counter_value=5_000, read_at=NOW - timedelta(days=1))
    fuse, part = component("fuse"), make_part(component=component("fuse"))
    make_stock_count(depot=depot, part=part, counted_at=NOW - timedelta(days=1), on_hand=3)
    old = make_fitment(door=door, component=fuse)
    fault = make_fault(door=door, component=fuse, mode="FM10", found_at=NOW - timedelta(days=2))
    asked = make_follow_up(door=door, task_asked=task("LUB"))
    report = make_defect_report(door=door)
    visit = ready_visit(door)
    closed(
        visit,
        JobClosing(add(visit, JobKind.TASK, task=task("COI")), "done"),
        JobClosing(add(visit, JobKind.FOLLOW_UP, follow_up=asked), "done"),
        JobClosing(add(visit, JobKind.DEFECT, defect_report=report), "done"),
        JobClosing(
            add(visit, JobKind.FAULT, fault=fault),
            "done",
            action="replace",
            mechanism="heat",
            cause="age",
            off_road_from=NOW,
            off_road_until=LATER,
            parts=[PartUse(part=part, quantity=2, removal="failed")],
        ),
    )
    visit.refresh_from_db()
    assert (visit.state, visit.signed_by, visit.closed_at) == (VisitState.CLOSED, "Kim", LATER)
    assert set(TaskDone.objects.values_list("task__code", flat=True)) == {"COI", "LUB", "REV"}
    asked.refresh_from_db()
    assert asked.task_done is not None
    assert asked.closed_at == LATER
    report.refresh_from_db()
    assert report.state == DefectState.REPAIRED
    repaired = Fault.objects.in_force().get()
    assert (repaired.corrects, repaired.action, repaired.off_road_until) == (
        fault,
        "replace",
        LATER,
    )
    assert Repair.objects.get().fault == repaired
    old.refresh_from_db()
    assert (old.removal, old.removed_on) == ("failed", LATER.date())
    assert Fitment.objects.get(removal="").part == part
    # The stock was counted after the fault was found: what counts is when the part was taken.
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert now.on_hand == 1
    assert list(PartUsed.objects.used_with(repaired)) == list(PartUsed.objects.all())
    assert not visit.jobs.filter(outcome="").exists()


@pytest.mark.django_db
def test_a_reading_on_the_visit_makes_the_final_check_count_as_reading_too() -> None:
    visit = ready_visit()
    make_reading(door=visit.door, counter_value=10, read_at=NOW + timedelta(minutes=5))
    closed(visit)
    assert set(TaskDone.objects.values_list("task__code", flat=True)) == {"REV", "CTR"}


@pytest.mark.django_db
def test_closed_twice_by_the_same_name_is_closed_once_and_by_another_refused() -> None:
    visit = ready_visit()
    closed(visit)
    assert closed(visit).closed_at == LATER
    with pytest.raises(VisitRefusedError, match="closed”, Kim"):
        closed(visit, signed_by="Sam")


@pytest.mark.django_db
def test_no_safety_tick_is_forgotten() -> None:
    visit = make_open_visit()
    make_final_check(visit=visit)
    make_tick(visit=visit, tick="chocks")
    assert refused(visit).field == "ticks"


@pytest.mark.django_db
def test_a_visit_not_begun_is_not_closed_and_not_without_a_name() -> None:
    assert "Only an open visit" in str(refused(make_visit()))
    assert refused(ready_visit(), signed_by=" ").field == "signed_by"


@pytest.mark.django_db
def test_a_visit_ends_after_it_began() -> None:
    visit = ready_visit()
    Visit.objects.filter(pk=visit.pk).update(started_at=LATER + timedelta(hours=1))
    assert refused(visit).field == "closed_at"


@pytest.mark.django_db
def test_each_job_is_told_whole() -> None:
    visit = ready_visit()
    job = add(visit, JobKind.TASK, task=task("LUB"))
    fault = add(visit, JobKind.FAULT, fault=make_fault(door=visit.door))
    done = JobClosing(fault, "done", action="adjust")
    name = f"job-{job.pk}"
    assert refused(visit, done).field == name
    assert refused(visit, JobClosing(job, ""), done).field == name
    assert refused(visit, JobClosing(job, "not_done"), done).field == name
    assert "what was done" in str(
        refused(visit, JobClosing(job, "done"), JobClosing(fault, "done"))
    )
    foreign = add(make_open_visit(), JobKind.TASK, task=task("LUB"))
    assert "own visit" in str(refused(visit, JobClosing(foreign, "done")))


@pytest.mark.django_db
def test_a_job_not_done_keeps_its_reason_and_leaves_the_record_alone() -> None:
    visit = ready_visit(checked=False)
    job = add(visit, JobKind.TASK, task=task("LUB"))
    closed(visit, JobClosing(job, "not_done", reason="no grease"))
    job.refresh_from_db()
    assert (job.outcome, job.reason) == ("not_done", "no grease")
    assert not TaskDone.objects.exists()


@pytest.mark.django_db
def test_work_on_the_door_ends_with_a_final_check_that_passed() -> None:
    visit = ready_visit(checked=False)
    done = JobClosing(add(visit, JobKind.TASK, task=task("LUB")), "done")
    assert refused(visit, done).field == "final_check"
    make_final_check(visit=visit, reverses=False)
    assert refused(visit, done).field == "final_check"
    make_final_check(visit=visit)
    closed(visit, done)


@pytest.mark.django_db
def test_a_reading_or_cleaning_needs_no_final_check() -> None:
    visit = ready_visit(checked=False)
    jobs = [add(visit, JobKind.TASK, task=task(code)) for code in ("CTR", "CLN")]
    closed(visit, *(JobClosing(job, "done") for job in jobs))
    assert TaskDone.objects.count() == 2


@pytest.mark.django_db
def test_other_work_may_end_under_a_standing_hold_but_not_spring_work() -> None:
    visit = ready_visit(checked=False)
    make_hold(door=visit.door)
    lubricated = JobClosing(add(visit, JobKind.TASK, task=task("LUB")), "done")
    spring = add(
        visit, JobKind.FAULT, fault=make_fault(door=visit.door, component=component("spring"))
    )
    replaced = JobClosing(spring, "done", action="replace")
    assert refused(visit, lubricated, replaced).field == "final_check"
    closed(visit, lubricated, JobClosing(spring, "not_done", reason="waits for a trained person"))


@pytest.mark.django_db
@pytest.mark.parametrize("verdict", ["V32", "V33", "V34", "V36", "V40", "V43", "V90"])
def test_after_such_a_verdict_nothing_closes_without_the_final_check(verdict: str) -> None:
    visit = ready_visit(checked=False)
    make_hold(door=visit.door)
    trace = make_trace(door=visit.door, visit=visit)
    trace.verdict = verdict
    trace.save()
    done = JobClosing(add(visit, JobKind.TASK, task=task("LUB")), "done")
    assert refused(visit, done).field == "final_check"


@pytest.mark.django_db
def test_a_refused_part_undoes_the_whole_closing() -> None:
    # No reading and no cycles: the new part's life has no beginning.
    visit = ready_visit()
    fault = make_fault(door=visit.door, component=component("fuse"))
    jobs = [add(visit, JobKind.TASK, task=task("LUB")), add(visit, JobKind.FAULT, fault=fault)]
    part = PartUse(part=make_part(component=component("fuse")), quantity=1, removal="failed")
    error = refused(
        visit,
        JobClosing(jobs[0], "done"),
        JobClosing(jobs[1], "done", action="replace", parts=[part]),
    )
    assert error.field == f"job-{jobs[1].pk}"
    assert "lifetime cycles" in str(error)
    assert Fault.objects.get().action == ""


@pytest.mark.django_db
def test_a_fault_corrected_meanwhile_is_closed_as_it_stands() -> None:
    visit = ready_visit()
    fault = make_fault(door=visit.door, component=component("fuse"))
    job = add(visit, JobKind.FAULT, fault=fault)
    newer = make_fault(door=visit.door, component=component("motor"), mode="FM19")
    Fault.objects.filter(pk=newer.pk).update(corrects=fault)
    Fault.objects.filter(pk=fault.pk).update(superseded_at=NOW)
    closed(visit, JobClosing(job, "done", action="replace"))
    assert Fault.objects.in_force().get().mode == "FM19"


@pytest.mark.django_db
def test_a_repeat_within_thirty_days_is_found() -> None:
    door, fuse = make_door(), component("fuse")
    make_fault(door=door, component=fuse, found_at=NOW - timedelta(days=31))
    near = make_fault(door=door, component=fuse, found_at=NOW - timedelta(days=29))
    make_fault(door=door, component=component("motor"), found_at=NOW - timedelta(days=1))
    fault = make_fault(door=door, component=fuse)
    assert repeats_of(door=door, faults=[fault]) == [near]
    assert repeats_of(door=door, faults=[]) == []


def close_with_the_last_fuse(visit: Visit, closing: JobClosing) -> str:
    try:
        closed(visit, closing)
    finally:
        connection.close()
    return "closed"


def twenty_closings() -> None:
    depot = make_depot()
    part = make_part(component=component("fuse"))
    make_stock_count(depot=depot, part=part, counted_at=NOW - timedelta(days=1), on_hand=1)
    work = []
    for _each in range(20):
        door = make_door(depot=depot)
        make_reading(door=door, counter_value=100)
        visit = ready_visit(door)
        job = add(visit, JobKind.FAULT, fault=make_fault(door=door, component=component("fuse")))
        use = PartUse(part=part, quantity=1, removal="failed")
        work.append((visit, JobClosing(job, "done", action="replace", parts=[use])))
    with ThreadPoolExecutor(max_workers=20) as pool:
        ended = list(pool.map(lambda each: close_with_the_last_fuse(*each), work))
    assert ended == ["closed"] * 20
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    # Nineteen more than were ever counted: flagged as below zero, none lost, none counted twice.
    assert (now.since_count, now.on_hand, now.needs_count) == (-20, -19, True)
    assert Fitment.objects.filter(part=part, removal="").count() == 20


@pytest.mark.django_db(transaction=True)
def test_twenty_closings_at_once_keep_the_stock_right() -> None:
    twenty_closings()


@pytest.mark.django_db(transaction=True)
def test_one_visit_closed_twenty_times_at_once_draws_its_fuse_once() -> None:
    depot = make_depot()
    part = make_part(component=component("fuse"))
    make_stock_count(depot=depot, part=part, counted_at=NOW - timedelta(days=1), on_hand=1)
    door = make_door(depot=depot)
    make_reading(door=door, counter_value=100)
    visit = ready_visit(door)
    job = add(visit, JobKind.FAULT, fault=make_fault(door=door, component=component("fuse")))
    use = PartUse(part=part, quantity=1, removal="failed")
    closing = JobClosing(job, "done", action="replace", parts=[use])
    with ThreadPoolExecutor(max_workers=20) as pool:
        list(pool.map(lambda _each: close_with_the_last_fuse(visit, closing), range(20)))
    now = on_hand_now(depot=depot, part=part)
    assert now is not None
    assert now.on_hand == 0
    assert Repair.objects.count() == 1
