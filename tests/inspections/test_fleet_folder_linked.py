"""What happened at the truck goes along in a fleet folder: every row, and what each names."""

from __future__ import annotations

import csv
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from fleetdoors.models import Role, User
from inspections.models import (
    CauseShare,
    DefectStep,
    Fault,
    FaultTrace,
    FollowUp,
    JobOutcome,
    LabourRate,
    Measurement,
    OutsideInvoice,
    PartUsed,
    Repair,
    RoadHold,
    SafetyTick,
    TaskDone,
    Visit,
    VisitMinutes,
    VisitState,
)
from inspections.quantities import WRONG
from inspections.services.cause_shares import say_shares
from inspections.services.findings import Correction
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from inspections.services.fleet_folder.linked_tables import LINKED_TABLES
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.holds import lift_hold
from inspections.services.inspecting import InspectionFacts, record_inspection
from inspections.services.issuing import issue_pieces
from inspections.services.labels import issue_label
from inspections.services.labour import note_minutes, set_rate
from inspections.services.measuring_again import correct_measurement
from inspections.services.outside_invoices import Invoiced, enter_invoice, reverse_invoice
from inspections.services.safety import take_back_tick
from inspections.services.taking_back import take_back_use
from inspections.services.tasks_done import WorkDone, correct_task_done, record_task_done
from inspections.services.tracing import answer_question
from inspections.tracing.answers import Answer
from inspections.tracing.likelihood import GROUPS
from tests.announced_factories import make_new_trucks
from tests.desk_factories import make_check, make_look
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_part,
    make_truck,
    make_user,
    task,
)
from tests.inspections.test_fleet_folder_round_trip import empty_the_database, goes_round
from tests.stock_factories import (
    make_charge,
    make_lot,
    make_receipt,
    make_transfer,
    said,
    stocked,
)
from tests.truck_factories import (
    make_defect_report,
    make_defect_step,
    make_final_check,
    make_follow_up,
    make_open_visit,
    make_spring_word,
    make_tick,
    make_trace,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
# What the ledger numbers itself, and what movements of other tables rest on.
OF_THE_LEDGER = {
    "stock_movements": {
        "sequence", "balance_after", "is_beyond_record", "part_used", "stock_count", "receipt",
        "part_return",
    },
}  # fmt: skip
LATER, MUCH_LATER = NOW + timedelta(minutes=20), NOW + timedelta(hours=2)


def a_closed_visit() -> Visit:
    """A visit with a job of each kind, an inspection, a trace, a repair, all tied together."""
    kim = make_user()
    depot = make_depot(code="OSL", timezone="Europe/Oslo")
    visit = make_open_visit(
        door=make_door(truck=make_truck(depot=depot, fleet_number="=7")), technician=kim
    )
    door = visit.door
    make_spring_word(person=kim)
    issue_label(door=door, issued_at=NOW)
    make_tick(visit=visit)
    make_tick(visit=visit, tick="tools", reason="-in a hurry")
    take_back_tick(visit=visit, tick="chocks", taken_back_at=LATER, taken_back_by=kim)
    make_tick(visit=visit)
    visit.jobs.create(kind="task", task=task("LFT"))
    inspection = record_inspection(
        door=door,
        facts=InspectionFacts(begun_at=LATER, inspector="Kim", note="line\nline"),
        values={"balance_half": -400.0, "spring": WRONG, "battery_rest": 11.9},
        entered_at=LATER,
        entered_by=kim,
        visit=visit,
    )
    correct_measurement(
        measurement=inspection.measurements.get(quantity="balance_half"),
        value=-300.0,
        correction=Correction(reason="other scale", entered_at=MUCH_LATER, entered_by=kim),
    )
    hold = RoadHold.objects.get()
    lift_hold(
        hold=hold,
        signed_by="Kim",
        signed_role="technician",
        what_was_done="new spring",
        lifted_at=MUCH_LATER,
        lifted_by=kim,
        entered_at=MUCH_LATER,
    )
    trace = make_trace(door=door, visit=visit, symptom="S4")
    for number, answer in enumerate(
        (
            Answer("N00", "yes"),
            Answer("N32", "measured", {"rest_volts": 12.6, "running_volts": 10.25}),
        ),
        start=1,
    ):
        answer_question(
            trace=trace, answer=answer, sequence=number, answered_at=LATER, entered_at=LATER
        )
    fault = make_fault(door=door, component=component("fuse"), mode="FM10", action="replace")
    trace.refresh_from_db()
    trace.fault = fault
    trace.save()
    Repair.objects.create(
        fault=fault, visit=visit, mechanism="heat", cause="age", repaired_at=LATER,
        entered_at=LATER, entered_by=kim,
    )  # fmt: skip
    report = make_defect_report(door=door, complaint="S8")
    DefectStep.objects.create(
        report=report, kind="assessed", taken_at=LATER, name="Kim", role="technician",
        fault=fault, entered_at=LATER, entered_by=kim,
    )  # fmt: skip
    follow_up = FollowUp.objects.open().get()
    done = record_task_done(
        door=door,
        work=WorkDone(task=task("BAL"), done_at=LATER, done_by="Kim"),
        entered_at=LATER,
        entered_by=kim,
    )
    done = correct_task_done(
        task_done=done,
        work=WorkDone(task=task("BAL"), done_at=LATER, done_by="Kim and Bo"),
        reason="two of us",
        entered_at=MUCH_LATER,
        entered_by=kim,
    )
    visit.jobs.create(kind="fault", fault=fault, outcome=JobOutcome.DONE, done_at=LATER)
    visit.jobs.create(kind="defect", defect_report=report, outcome="not_done", reason="no time")
    visit.jobs.create(
        kind="follow_up", follow_up=follow_up, outcome="done", done_at=LATER, task_done=done
    )
    follow_up.closed_at, follow_up.task_done, follow_up.end_entered_at = LATER, done, LATER
    follow_up.save()
    make_final_check(visit=visit)
    visit.handovers.create(from_person=kim, to_person=make_user(), note="fuse lies in the cab",
                           handed_at=LATER)  # fmt: skip
    used = PartUsed.objects.create(
        door=door, used_at=LATER, part=make_part(), quantity=1, entered_at=LATER, entered_by=kim
    )
    slip = Correction(reason="the old one was good", entered_at=MUCH_LATER, entered_by=kim)
    take_back_use(used=used, correction=slip)
    shares = {code: group.prior * 100 for code, group in GROUPS.items()}
    for cable, at in ((24.0, NOW), (20.0, LATER)):
        say_shares(
            percent=shares | {"cable": cable, "remote": 32 - cable},
            reason="seen",
            entered_at=at,
            entered_by=kim,
        )
    visit.state, visit.closed_at, visit.signed_by = VisitState.CLOSED, MUCH_LATER, "Kim"
    visit.save()
    _what_it_cost(visit, kim)
    make_new_trucks(depot=visit.depot, by=kim)
    _what_was_ordered(visit)
    make_look(check=make_check(door_model=visit.door.door_model), door=visit.door)
    return visit


def _what_was_ordered(visit: Visit) -> None:
    """A delivery of a lot, a cost and whatever an order leaves behind."""
    receipt = make_receipt()
    receipt.lot = make_lot(part=receipt.part)
    receipt.save()
    make_charge()
    stocked(place=receipt.place, part=receipt.part)
    issue_pieces(place=receipt.place, part=receipt.part, quantity=1, said=said())
    make_transfer(part=receipt.part)
    visit.reservations.create(depot=visit.depot, part=receipt.part, quantity=1, reserved_at=NOW)


def _what_it_cost(visit: Visit, kim: User) -> None:
    """Minutes put right, a price put right, and an invoice taken back."""
    facts = {"entered_at": LATER, "entered_by": kim}
    note_minutes(visit=visit, minutes=40, **facts)
    note_minutes(visit=visit, minutes=80, reason="two of us", **facts)
    for price, reason in ((90, ""), (95, "slip")):
        set_rate(
            depot=visit.depot, from_on=NOW.date(), per_hour=Decimal(price), currency="NOK",
            reason=reason, **facts,
        )  # fmt: skip
    said = Invoiced(
        supplier="=Yard", number="R-1", invoiced_on=NOW.date(), amount=Decimal("410.25"),
        currency="NOK", door=visit.door, what_for="panel",
    )  # fmt: skip
    invoice = enter_invoice(said=said, today=NOW.date(), **facts)
    reverse_invoice(invoice=invoice, reason="wrong", entered_at=MUCH_LATER, entered_by=kim)


def test_every_field_that_a_person_filled_has_a_column() -> None:
    for table in LINKED_TABLES:
        fields = {f.name for f in table.model._meta.concrete_fields if not f.primary_key}
        named = {c.field for c in table.columns if c.lookup}
        assert fields - OF_THE_LEDGER.get(table.name, set()) == named, table.name


def test_a_visit_with_everything_on_it_goes_round_and_keeps_its_ties(tmp_path: Path) -> None:
    serial = a_closed_visit().door.serial
    counts = {table.name: table.model._default_manager.count() for table in LINKED_TABLES}
    assert min(counts.values()) > 0
    files = goes_round(tmp_path)
    assert {f"{name}.csv" for name in counts} <= set(files)
    assert {t.name: t.model._default_manager.count() for t in LINKED_TABLES} == counts

    visit = Visit.objects.get()
    assert (visit.door.serial, visit.truck.fleet_number) == (serial, "=7")
    assert (visit.depot.code, visit.signed_by) == ("OSL", "Kim")
    jobs = {job.kind: job for job in visit.jobs.all()}
    assert jobs["fault"].fault == Fault.objects.get(mode="FM10")
    assert jobs["defect"].reason == "no time"
    assert jobs["follow_up"].follow_up.task_done == jobs["follow_up"].task_done
    assert jobs["follow_up"].task_done.done_by == "Kim and Bo"
    corrected = Measurement.objects.get(corrects__isnull=False)
    assert (corrected.value, corrected.corrects.value) == (-300.0, -400.0)
    assert (corrected.reason, corrected.entered_by.username) == (
        "other scale",
        visit.technician.username,
    )
    assert corrected.inspection.note == "line\nline"
    assert FollowUp.objects.get().measurement == corrected.corrects
    trace = FaultTrace.objects.get()
    assert (trace.verdict, trace.fault.mode) == ("V10", "FM10")
    assert trace.answers.get(node="N32").values == {"rest_volts": 12.6, "running_volts": 10.25}
    assert DefectStep.objects.get().fault == trace.fault == Repair.objects.get().fault
    assert SafetyTick.objects.filter(taken_back_at__isnull=False).count() == 1
    assert RoadHold.objects.get().lifted_by == visit.technician
    assert CauseShare.objects.in_force().get(group="cable").corrects.percent == 24.0
    work = TaskDone.objects.in_force().get(task__code="BAL")
    assert (work.reason, work.entered_by) == ("two of us", visit.technician)
    assert PartUsed.objects.get().taken_back_because == "the old one was good"
    minutes = VisitMinutes.objects.in_force().get()
    assert (minutes.visit, minutes.minutes, minutes.corrects.minutes) == (visit, 80, 40)
    assert LabourRate.objects.in_force().get().corrects.per_hour == 90
    reversal = OutsideInvoice.objects.get(is_reversal=True)
    assert (reversal.amount, reversal.corrects.supplier) == (Decimal("-410.25"), "=Yard")
    assert reversal.truck == visit.truck


def test_what_is_there_already_stays_as_it_is(tmp_path: Path) -> None:
    visit = a_closed_visit()
    export_fleet(tmp_path / "fleet")
    Visit.objects.filter(pk=visit.pk).update(reason="said since")
    report = import_fleet(tmp_path / "fleet", now=NOW)
    assert not report.refused
    assert report.changes_nothing
    assert Visit.objects.get().reason == "said since"


def test_a_folder_with_more_adds_only_that(tmp_path: Path) -> None:
    visit = a_closed_visit()
    export_fleet(tmp_path / "fleet")
    removed = visit.handovers.get()
    removed.delete()
    report = import_fleet(tmp_path / "fleet", now=NOW)
    added = {count.table: count.new for count in report.counts if count.new}
    assert added == {"visit_handovers": 1}
    assert visit.handovers.get().note == removed.note


def test_two_equal_faults_are_told_apart(tmp_path: Path) -> None:
    door = make_door()
    first, second = (make_fault(door=door, component=component("fuse")) for _each in range(2))
    visit = make_open_visit(door=door)
    for fault in (second, first):
        visit.jobs.create(kind="fault", fault=fault)
    goes_round(tmp_path)
    assert len({job.fault_id for job in Visit.objects.get().jobs.all()}) == 2


def rewritten(folder: Path, table: str, **changes: str) -> Path:
    """The folder with other values in the first row of a table."""
    path = folder / f"{table}.csv"
    rows = list(csv.reader(path.open(encoding="utf-8", newline="")))
    for name, value in changes.items():
        rows[1][rows[0].index(name)] = value
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)
    return folder


@pytest.mark.parametrize(
    ("table", "changes", "says"),
    [
        ("visit_jobs", {"visit": "99"}, "no row of visits"),
        ("visit_jobs", {"row": "2"}, "another row has this mark"),
        ("repairs", {"fault": "0123456789ab"}, "no row of faults"),
        ("trace_answers", {"values": "[1]"}, "must be named values"),
        ("door_labels", {"code": "AAAAAAB"}, "check character is wrong"),
        ("measurements", {"quantity": "colour"}, "unknown code; known are: spring"),
        ("visits", {"technician": "nobody"}, "neither in the folder's people"),
        ("safety_ticks", {"door": "D-elsewhere"}, "neither in the folder's doors"),
    ],
)
def test_a_row_that_names_nothing_is_told_and_nothing_is_written(
    tmp_path: Path, table: str, changes: dict[str, str], says: str
) -> None:
    a_closed_visit()
    export_fleet(tmp_path / "fleet")
    empty_the_database()
    folder = rewritten(tmp_path / "fleet", table, **changes)
    report = import_fleet(folder, now=NOW)
    problems = [str(problem) for problem in report.problems]
    assert any(says in problem and f"{table}.csv" in problem for problem in problems), problems
    assert not Visit.objects.exists()
    assert check_fleet(folder, now=NOW).refused


def test_people_come_without_a_key_to_the_house(tmp_path: Path) -> None:
    a_closed_visit()
    boss = make_user(username="boss", role=Role.BUYER)
    export_fleet(tmp_path / "fleet")
    assert "password" not in (tmp_path / "fleet" / "people.csv").read_text().lower()
    empty_the_database()
    assert not import_fleet(tmp_path / "fleet", now=NOW).refused
    came = User.objects.get(username=boss.username)
    assert not came.is_active
    assert not came.check_password("")
    assert not came.is_superuser


def test_no_column_of_a_folder_takes_what_somebody_proves_who_they_are_with() -> None:
    fields = {(column.name, column.field) for table in TABLES.values() for column in table.columns}
    secret = ("pin", "password", "hash", "key", "token", "digest", "secret")
    assert not [
        each for each in fields if any(word in part.split("_") for part in each for word in secret)
    ]
    models = {table.model.__name__ for table in TABLES.values()}
    assert not models & {"PhonePin", "MachineToken", "VisitFeed"}


def test_a_folder_gives_nobody_another_role(tmp_path: Path) -> None:
    kim = make_user(role=Role.TECHNICIAN)
    make_door()
    export_fleet(tmp_path / "fleet")
    rewritten(tmp_path / "fleet", "people", role=Role.ADMINISTRATOR.value, first_name="Eve")
    report = import_fleet(tmp_path / "fleet", now=NOW)
    assert report.changes_nothing
    kim.refresh_from_db()
    assert (kim.role, kim.is_active) == (Role.TECHNICIAN, True)


def test_without_anything_at_the_truck_no_such_table_is_written(tmp_path: Path) -> None:
    make_door()
    export_fleet(tmp_path / "fleet")
    written = {path.stem for path in (tmp_path / "fleet").iterdir()}
    assert not written & {table.name for table in LINKED_TABLES}


def test_follow_ups_and_steps_of_no_visit_go_too(tmp_path: Path) -> None:
    make_follow_up()
    make_defect_step()
    issue_label(door=make_door(), issued_at=NOW)
    files = goes_round(tmp_path)
    assert {"follow_ups.csv", "defect_steps.csv", "door_labels.csv"} <= set(files)
