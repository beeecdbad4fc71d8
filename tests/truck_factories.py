"""Builders of rows about what happens at the truck: visits, inspections, traces, reports, holds."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django.contrib.auth.hashers import make_password
from django.core.files.base import ContentFile

from fleetdoors.models import DoorUnit, MaintenanceTask, User
from inspections.models import (
    AnswerKind,
    Attachment,
    CauseShare,
    DefectReport,
    DefectState,
    DefectStep,
    DeviceEntry,
    EntryOutcome,
    FaultTrace,
    FinalCheck,
    FollowUp,
    HoldReason,
    Inspection,
    InspectionKind,
    Judgement,
    LettingGo,
    Measurement,
    PhonePin,
    Repair,
    RoadHold,
    SafetyTick,
    SpringAuthorisation,
    Tick,
    TraceAnswer,
    Visit,
    VisitHandover,
    VisitState,
)
from inspections.services.labels import issue_label
from tests.factories import NOW, make_door, make_fault, make_user, task

TODAY = NOW.date()


def make_visit(
    *,
    door: DoorUnit | None = None,
    planned_on: date = TODAY,
    state: str = VisitState.PLANNED,
    technician: User | None = None,
    started_at: datetime | None = None,
    **facts: Any,
) -> Visit:
    """A visit to a mounted door, at its truck and depot."""
    door = door or make_door()
    truck = door.mountings.get(removed_on=None).truck
    return Visit.objects.create(
        door=door,
        truck=truck,
        depot=truck.depot,
        planned_on=planned_on,
        state=state,
        technician=technician,
        started_at=started_at,
        entered_at=NOW,
        **facts,
    )


def make_open_visit(*, door: DoorUnit | None = None, technician: User | None = None) -> Visit:
    return make_visit(
        door=door, state=VisitState.OPEN, technician=technician or make_user(), started_at=NOW
    )


def make_tick(
    *, visit: Visit | None = None, tick: str = Tick.CHOCKS, reason: str = ""
) -> SafetyTick:
    return SafetyTick.objects.create(
        visit=visit or make_open_visit(),
        tick=tick,
        ticked_at=NOW,
        ticked_by=make_user(),
        skipped_reason=reason,
    )


def make_final_check(*, visit: Visit, **items: bool) -> FinalCheck:
    """A final check that passed, but for the items given."""
    return FinalCheck.objects.create(
        visit=visit,
        checked_at=NOW,
        checked_by=make_user(),
        entered_at=NOW,
        **(dict.fromkeys(FinalCheck.ITEMS, True) | items),
    )


def make_inspection(
    *,
    door: DoorUnit | None = None,
    kind: str = InspectionKind.ROUTINE,
    visit: Visit | None = None,
    begun_at: datetime = NOW,
    entered_by: User | None = None,
) -> Inspection:
    return Inspection.objects.create(
        door=door or make_door(),
        visit=visit,
        kind=kind,
        begun_at=begun_at,
        inspector="Kim",
        entered_at=begun_at,
        entered_by=entered_by,
    )


def make_measurement(
    *,
    door: DoorUnit | None = None,
    quantity: str = "battery_rest",
    value: float = 12.6,
    inspection: Inspection | None = None,
    measured_at: datetime = NOW,
    **facts: Any,
) -> Measurement:
    door = door or (inspection.door if inspection else make_door())
    return Measurement.objects.create(
        door=door,
        quantity=quantity,
        value=value,
        inspection=inspection,
        measured_at=measured_at,
        entered_at=measured_at,
        judgement=facts.pop("judgement", Judgement.HOLDS),
        **facts,
    )


def make_follow_up(
    *,
    door: DoorUnit | None = None,
    task_asked: MaintenanceTask | None = None,
    opened_at: datetime = NOW,
    because: str = "Balance past its limit",
) -> FollowUp:
    return FollowUp.objects.create(
        door=door or make_door(),
        task=task_asked or task("BAL"),
        because=because,
        opened_at=opened_at,
        entered_at=opened_at,
    )


def make_trace(
    *, door: DoorUnit | None = None, symptom: str = "S1", visit: Visit | None = None
) -> FaultTrace:
    return FaultTrace.objects.create(
        door=door or make_door(), visit=visit, symptom=symptom, begun_at=NOW, entered_at=NOW
    )


def make_answer(*, trace: FaultTrace | None = None) -> TraceAnswer:
    return TraceAnswer.objects.create(
        trace=trace or make_trace(), sequence=1, node="N00", kind=AnswerKind.YES, answered_at=NOW
    )


def make_defect_report(
    *, door: DoorUnit | None = None, complaint: str = "S1", reported_at: datetime = NOW
) -> DefectReport:
    door = door or make_door()
    return DefectReport.objects.create(
        door=door,
        truck=door.mountings.get(removed_on=None).truck,
        complaint=complaint,
        reporter="Robin",
        reported_at=reported_at,
        entered_at=reported_at,
    )


def make_defect_step(*, report: DefectReport | None = None) -> DefectStep:
    return DefectStep.objects.create(
        report=report or make_defect_report(),
        kind=DefectState.ASSESSED,
        taken_at=NOW,
        name="Kim",
        entered_at=NOW,
    )


def make_hold(
    *, door: DoorUnit | None = None, because: str = HoldReason.SPRING_OR_CABLE
) -> RoadHold:
    door = door or make_door()
    return RoadHold.objects.create(
        door=door,
        truck=door.mountings.get(removed_on=None).truck,
        because=because,
        placed_at=NOW,
        entered_at=NOW,
    )


def make_repair() -> Repair:
    return Repair.objects.create(
        fault=make_fault(door=make_door(), complaint="S1"), repaired_at=NOW, entered_at=NOW
    )


def make_spring_word(*, person: User, until_on: date = date(2027, 12, 31)) -> SpringAuthorisation:
    """The shop's word that a person may work on springs."""
    return SpringAuthorisation.objects.create(
        person=person, from_on=date(2025, 1, 1), until_on=until_on, granted_by="Head of the shop"
    )


def make_attachment() -> Attachment:
    return Attachment.objects.create(
        file=ContentFile(b"a picture", name="picture.jpg"),
        sha256="0" * 64,
        content_type="image/jpeg",
        bytes_count=9,
        taken_at=NOW,
        entered_at=NOW,
        defect_report=make_defect_report(),
    )


def make_letting_go(*, by: User | None = None) -> LettingGo:
    """That the records of a door were deleted on the day."""
    day = NOW.date()
    return LettingGo.objects.create(
        door=make_door(), rule_set="none", left_on=day, kept_until_on=day, gone_on=day,
        gone_at=NOW, gone_by=by, rows={"inspections_fault": 1},
    )  # fmt: skip


def make_cause_share(*, group: str = "fuse", percent: float = 30.0) -> CauseShare:
    return CauseShare.objects.create(group=group, percent=percent, entered_at=NOW)


def make_device_entry() -> DeviceEntry:
    return DeviceEntry.objects.create(
        client_id=uuid4(),
        kind="reading",
        payload={},
        phone_now=NOW,
        happened_at_raw=NOW,
        happened_at=NOW,
        received_at=NOW,
        author=make_user(),
        outcome=EntryOutcome.STORED,
    )


def make_phone_pin(*, person: User | None = None, pin: str = "4071") -> PhonePin:
    return PhonePin.objects.create(
        person=person or make_user(), pin_hash=make_password(pin), set_at=NOW
    )


def handover_to_oneself() -> VisitHandover:
    """A handover that nobody may make: from a person to the same one."""
    person = make_user()
    return VisitHandover(
        visit=make_open_visit(), from_person=person, to_person=person, handed_at=NOW
    )


def make_one_of_each() -> None:
    """One row of everything at the truck."""
    visit = make_open_visit()
    make_tick(visit=visit)
    make_final_check(visit=visit)
    visit.jobs.create(kind="task", task=task("LUB"))
    visit.handovers.create(to_person=make_user(), handed_at=NOW)
    make_measurement(inspection=make_inspection(door=visit.door))
    make_follow_up()
    make_answer()
    make_defect_step()
    make_hold()
    make_repair()
    make_spring_word(person=make_user())
    make_attachment()
    make_device_entry()
    make_phone_pin()
    issue_label(door=visit.door, issued_at=NOW)
