"""Visits that a phone planned, began, handed over and closed: each once, and no conflict silent."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from fleetdoors.models import DoorUnit, User
from inspections.models import (
    DeviceEntry,
    EntryOutcome,
    FaultTrace,
    FinalCheck,
    HoldReason,
    Inspection,
    JobOutcome,
    PartUsed,
    RoadHold,
    Tick,
    Visit,
    VisitState,
)
from inspections.services.device_kinds.arriving import EntryTooEarlyError
from tests.factories import NOW, component, make_door, make_fault, make_part, make_user, task
from tests.inspections.test_device_entries import MADE, raw, taken
from tests.truck_factories import make_final_check, make_open_visit, make_tick, make_visit

pytestmark = pytest.mark.django_db

PASSED = dict.fromkeys(FinalCheck.ITEMS, "yes")


@pytest.fixture
def door(recompute_requests: object) -> DoorUnit:
    return make_door()


@pytest.fixture
def kim() -> User:
    return make_user(username="kim")


def begun_on_the_phone(door: DoorUnit, client_id: UUID, **fields: Any) -> dict[str, Any]:
    return raw(
        "visit_plan",
        about={"door": door.serial},
        fields={"begin": "1", **fields},
        client_id=client_id,
    )


def told(entry: DeviceEntry) -> dict[str, tuple[str, str]]:
    """The differences of a refused entry, by what they are about."""
    return {
        each["label"]: (each["here"], each["there"]) for each in entry.result.get("differences", [])
    }


def ready_to_close(door: DoorUnit, kim: User) -> Visit:
    """An open visit whose ticks are set and whose final check has passed."""
    visit = make_open_visit(door=door, technician=kim)
    Visit.objects.filter(pk=visit.pk).update(started_at=MADE - timedelta(hours=1))
    for tick in Tick.values:
        make_tick(visit=visit, tick=tick)
    make_final_check(visit=visit)
    return visit


def test_a_visit_lived_through_without_a_signal_arrives_whole(door: DoorUnit, kim: User) -> None:
    first = uuid4()
    about = {"door": door.serial, "visit_of": str(first)}
    lub = task("LUB").pk
    entries = [
        begun_on_the_phone(door, first, tasks=[str(lub), str(task("CTR").pk)]),
        raw("tick", about=about, fields={"tick": Tick.CHOCKS}),
        raw("tick", about=about, fields={"tick": Tick.CLEAR_OPENING}),
        raw("tick", about=about, fields={"tick": Tick.ISOLATION}),
        raw("inspection", about=about, fields={"battery_rest": "12.6"}),
        raw(
            "trace_answer",
            about={**about, "symptom": "S1", "sequence": 1},
            fields={"node": "N00", "reply": "yes", "values": {}},
        ),
        raw("final_check", about=about, fields=PASSED),
        raw(
            "visit_close",
            about=about,
            fields={
                f"task-{lub}-outcome": "done",
                f"task-{task('CTR').pk}-outcome": "not_done",
                f"task-{task('CTR').pk}-reason": "display dead",
                "signed_by": "Kim",
            },
        ),
    ]
    assert [taken(entry, sender=kim).refusal for entry in entries] == [""] * len(entries)
    visit = Visit.objects.get()
    assert (visit.state, visit.technician, visit.signed_by) == (VisitState.CLOSED, kim, "Kim")
    assert visit.planned_on == MADE.date()
    outcomes = dict(visit.jobs.values_list("task__code", "outcome"))
    assert outcomes == {"LUB": JobOutcome.DONE, "CTR": JobOutcome.NOT_DONE}
    assert visit.jobs.get(task__code="LUB").task_done.done_at == MADE
    assert Inspection.objects.get().visit == FaultTrace.objects.get().visit == visit
    again = [taken(entry, sender=kim).outcome for entry in entries]
    assert set(again) == {EntryOutcome.STORED}
    assert Visit.objects.count() == visit.final_checks.count() == 1


def test_a_fault_is_closed_in_three_picks_with_the_part_it_took(door: DoorUnit, kim: User) -> None:
    fault = make_fault(door=door, complaint="S1", component=component("fuse"))
    fuse = make_part(part_number="F-20", component=component("fuse"))
    visit = ready_to_close(door, kim)
    visit.jobs.create(kind="fault", fault=fault)
    key = f"fault-{fault.pk}"
    fields = {
        f"{key}-outcome": "done",
        f"{key}-mode": "FM10",
        f"{key}-mechanism": "heat",
        f"{key}-cause": "age",
        f"{key}-action": "replace",
        f"{key}-parts-0-part": str(fuse.pk),
        f"{key}-parts-0-quantity": "1",
        "signed_with": "pin",
        "signed_by": "somebody else",
    }
    entry = taken(raw("visit_close", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    assert entry.refusal == ""
    visit.refresh_from_db()
    # Who signs by PIN signs by the own name.
    assert visit.signed_by == "kim"
    repaired = visit.jobs.get().fault
    repair = repaired.repairs.get()
    assert (repaired.mode, repaired.action) == ("FM10", "replace")
    assert (repair.mechanism, repair.cause, repair.repaired_at) == ("heat", "age", MADE)
    used = PartUsed.objects.get()
    assert (used.part, used.quantity, used.used_at) == (fuse, 1, MADE)


def test_minutes_typed_on_the_phone_arrive_and_a_slip_is_told(door: DoorUnit, kim: User) -> None:
    visit = ready_to_close(door, kim)
    about = {"visit": str(visit.pk)}
    slip = raw("visit_close", about=about, fields={"signed_by": "Kim", "minutes": "9000"})
    assert "Minutes worked" in taken(slip, sender=kim).refusal
    visit.refresh_from_db()
    assert visit.state == VisitState.OPEN
    good = raw("visit_close", about=about, fields={"signed_by": "Kim", "minutes": "55"})
    assert taken(good, sender=kim).refusal == ""
    assert [each.minutes for each in visit.minutes_worked.all()] == [55]


def test_a_job_that_came_meanwhile_stays_open_and_says_so(door: DoorUnit, kim: User) -> None:
    visit = ready_to_close(door, kim)
    for code in ("LUB", "BAL"):
        visit.jobs.create(kind="task", task=task(code))
    fields = {f"task-{task('LUB').pk}-outcome": "done", "signed_by": "Kim"}
    entry = taken(raw("visit_close", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    assert entry.refusal == ""
    late = visit.jobs.get(task__code="BAL")
    assert (late.outcome, late.task_done) == (JobOutcome.NOT_DONE, None)
    assert "after the phone was last told" in late.reason


def test_what_is_closed_meanwhile_is_told_job_by_job_and_nothing_is_changed(
    door: DoorUnit, kim: User
) -> None:
    visit = make_visit(
        door=door,
        state=VisitState.CLOSED,
        started_at=NOW,
        closed_at=NOW,
        signed_by="Robin",
        technician=kim,
    )
    visit.jobs.create(kind="task", task=task("LUB"), outcome="not_done", reason="no grease")
    fields = {f"task-{task('LUB').pk}-outcome": "done", "signed_by": "Kim"}
    entry = taken(raw("visit_close", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    assert entry.outcome == EntryOutcome.REFUSED
    differences = told(entry)
    assert differences["Visit"] == ("open", "closed")
    assert differences[str(task("LUB"))] == ("done", "not done: no grease")
    assert [each["here"] for each in entry.result["differences"]][-1] == "Kim"
    visit.refresh_from_db()
    assert visit.signed_by == "Robin"
    assert entry.payload["fields"] == fields


def test_a_job_that_the_visit_does_not_hold_is_told(door: DoorUnit, kim: User) -> None:
    visit = ready_to_close(door, kim)
    fields = {"fault-77-outcome": "done", "fault-77-label": "Fault: fuse", "signed_by": "Kim"}
    entry = taken(raw("visit_close", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    assert told(entry) == {"Fault: fuse": ("done", "no job of it")}
    visit.refresh_from_db()
    assert visit.state == VisitState.OPEN


def test_a_door_that_is_open_to_somebody_else_is_told_and_joined_by_choice(
    door: DoorUnit, kim: User
) -> None:
    robin = make_user(username="robin")
    other = make_open_visit(door=door, technician=robin)
    other.jobs.create(kind="task", task=task("BAL"))
    first, lub = uuid4(), str(task("LUB").pk)
    refused = taken(begun_on_the_phone(door, first, tasks=lub), sender=kim)
    assert told(refused) == {
        "In hand of": ("kim", "robin"),
        "Jobs": (str(task("LUB")), str(task("BAL"))),
    }
    tick = raw("tick", about={"visit_of": str(first)}, fields={"tick": Tick.CHOCKS})
    assert "correct that, and this goes with it" in taken(tick, sender=kim).refusal
    second = uuid4()
    joined = taken(begun_on_the_phone(door, second, tasks=lub, into_open="1"), sender=kim)
    assert joined.result == {"visit": other.pk}
    tick = raw("tick", about={"visit_of": str(second)}, fields={"tick": Tick.CHOCKS})
    assert taken(tick, sender=kim).result == {"visit": other.pk}
    assert set(other.jobs.values_list("task__code", flat=True)) == {"BAL", "LUB"}


def test_what_belongs_to_a_visit_that_has_not_arrived_waits_for_it(kim: User) -> None:
    with pytest.raises(EntryTooEarlyError, match="has not arrived yet"):
        taken(raw("tick", about={"visit_of": str(uuid4())}), sender=kim)
    unnamed = taken(raw("tick", about={"visit_of": "the one before"}), sender=kim)
    assert "is none" in unnamed.refusal


def test_a_visit_is_planned_for_another_day_and_person(door: DoorUnit, kim: User) -> None:
    fields = {"planned_on": "2026-12-03", "technician": str(kim.pk), "tasks": str(task("LUB").pk)}
    taken(raw("visit_plan", about={"door": door.serial}, fields=fields), sender=kim)
    visit = Visit.objects.get()
    assert (visit.state, visit.planned_on) == (VisitState.PLANNED, date(2026, 12, 3))
    assert (visit.technician, visit.jobs.get().task.code) == (kim, "LUB")
    bad = raw("visit_plan", about={"door": door.serial}, fields={"planned_on": "soon"})
    assert taken(bad, sender=kim).outcome == EntryOutcome.REFUSED


def test_jobs_of_another_door_are_not_taken_up(door: DoorUnit, kim: User) -> None:
    visit = make_open_visit(door=door)
    foreign = make_fault(door=make_door(), complaint="S1")
    about = {"door": door.serial, "visit": str(visit.pk)}
    fields = {"faults": [str(foreign.pk)], "tasks": [str(task("LUB").pk)]}
    taken(raw("visit_jobs", about=about, fields=fields), sender=kim)
    assert [job.kind for job in visit.jobs.all()] == ["task"]


def test_a_visit_passes_to_the_next_shift(door: DoorUnit, kim: User) -> None:
    robin = make_user(username="robin")
    visit = make_open_visit(door=door, technician=kim)
    fields = {"to_person": str(robin.pk), "note": "feed is off and locked"}
    taken(raw("hand_over", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    passed = visit.handovers.get()
    assert (passed.from_person, passed.to_person, passed.handed_at) == (kim, robin, MADE)
    nobody = raw("hand_over", about={"visit": str(visit.pk)}, fields={"to_person": "x"})
    assert "is nobody" in taken(nobody, sender=kim).refusal


def test_a_truck_that_did_not_come_is_planned_anew(door: DoorUnit, kim: User) -> None:
    visit = make_visit(door=door)
    about = {"visit": str(visit.pk)}
    fields = {"reason": "still on the road", "again_on": "2026-12-01"}
    taken(raw("visit_absent", about=about, fields=fields), sender=kim)
    states = dict(Visit.objects.values_list("state", "planned_on"))
    assert states[VisitState.PLANNED] == date(2026, 12, 1)
    late = taken(raw("visit_absent", about=about, fields=fields), sender=kim)
    assert told(late)["The truck did not come"] == ("still on the road", "not taken")


def test_a_truck_is_kept_by_who_stands_before_it(door: DoorUnit, kim: User) -> None:
    fields = {"because": HoldReason.NOT_SECURED, "detail": "latch bent"}
    entry = taken(raw("hold", about={"door": door.serial}, fields=fields), sender=kim)
    hold = RoadHold.objects.standing().get()
    assert entry.result == {"hold": hold.pk}
    assert (hold.placed_at, hold.placed_by, hold.detail) == (MADE, kim, "latch bent")


def test_a_tick_forgotten_keeps_the_visit_open(door: DoorUnit, kim: User) -> None:
    visit = make_open_visit(door=door)
    entry = raw("visit_close", about={"visit": str(visit.pk)}, fields={"signed_by": "Kim"})
    assert (
        "No safety tick is forgotten: 2 of this visit are open" in taken(entry, sender=kim).refusal
    )
    visit.refresh_from_db()
    assert visit.state == VisitState.OPEN


def test_a_tick_set_by_mistake_is_taken_back_and_asked_for_again(door: DoorUnit, kim: User) -> None:
    visit = make_open_visit(door=door)
    about, fields = {"visit": str(visit.pk)}, {"tick": Tick.CHOCKS}
    for kind in ("tick", "tick_back", "tick"):
        assert taken(raw(kind, about=about, fields=fields), sender=kim).refusal == ""
    first, again = visit.safety_ticks.order_by("pk")
    assert (first.taken_back_at, first.taken_back_by) == (MADE, kim)
    assert again.taken_back_at is None
