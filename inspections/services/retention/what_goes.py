"""Which tables hold a door's records, and what of them stays for good."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Model, Q, QuerySet

from fleetdoors.models import Counter, Fitment
from fleetdoors.retention import RecordClass
from inspections.models import (
    Attachment,
    CounterReading,
    DefectReport,
    DefectStep,
    Fault,
    FaultTrace,
    FinalCheck,
    FollowUp,
    Inspection,
    MachineEntry,
    Measurement,
    NightChoice,
    OffPlanReason,
    OneOffLook,
    PartReservation,
    PartReturn,
    PartTakenBack,
    PlanStep,
    Repair,
    RoadHold,
    SafetyTick,
    TaskDone,
    TraceAnswer,
    Visit,
    VisitHandover,
    VisitJob,
    VisitMinutes,
)

ATTACHED_TO = ("reading", "visit", "inspection", "trace", "fault", "defect_report")


@dataclass(frozen=True)
class Goes:
    """A table whose rows go with the door; `to_door`: the ways from a row to its door.

    `dated`: moments and days, the latest of which a row of the class is kept from; `of_truck`: it
    is a record of the truck, and waits for that to leave the fleet.
    """

    model: type[Model]
    to_door: tuple[str, ...]
    record_class: RecordClass | None = None
    dated: tuple[str, ...] = ()
    of_truck: str = ""

    def rows_of(self, door_ids: list[int]) -> QuerySet[Model]:
        """The rows of these doors."""
        condition = Q()
        for way in self.to_door:
            condition |= Q(**{f"{way}__in": door_ids})
        rows = self.model._default_manager.filter(condition)
        if self.model is Fitment:
            # A claim on a supplier, and a part taken back with its use, need the lives they name.
            rows = rows.exclude(door__in=PartReturn.objects.values("fitment__door"))
            rows = rows.exclude(door__in=PartTakenBack.objects.values("door"))
        return rows.order_by()


WORK, DEFECT = RecordClass.WORK, RecordClass.DEFECT
# From leaves to roots: what another row needs comes after it.
GOES = (
    Goes(TraceAnswer, ("trace__door",)),
    Goes(SafetyTick, ("visit__door",)),
    Goes(FinalCheck, ("visit__door",)),
    Goes(VisitMinutes, ("visit__door",)),
    Goes(VisitHandover, ("visit__door",)),
    Goes(OffPlanReason, ("visit__door",)),
    Goes(PlanStep, ("before__door", "after__door")),
    Goes(PartReservation, ("visit__door", "trace__door")),
    Goes(VisitJob, ("visit__door",)),
    Goes(Repair, ("fault__door",), WORK, ("repaired_at",)),
    Goes(Attachment, tuple(f"{each}__door" for each in ATTACHED_TO)),
    Goes(DefectStep, ("report__door",), DEFECT, ("taken_at",), "report__truck"),
    Goes(FollowUp, ("door",), WORK, ("opened_at", "closed_at")),
    Goes(Measurement, ("door",), WORK, ("measured_at",)),
    Goes(Inspection, ("door",), RecordClass.PERIODIC, ("begun_at",)),
    Goes(FaultTrace, ("door",), WORK, ("begun_at", "closed_at")),
    Goes(RoadHold, ("door",), WORK, ("placed_at", "lifted_at"), "truck"),
    Goes(NightChoice, ("door",)),
    Goes(OneOffLook, ("door",), WORK, ("looked_at",)),
    Goes(DefectReport, ("door",), DEFECT, ("reported_at",), "truck"),
    Goes(TaskDone, ("door",), WORK, ("done_at",)),
    Goes(Fault, ("door",), WORK, ("found_at", "off_road_until")),
    Goes(MachineEntry, ("reading__door",)),
    Goes(CounterReading, ("door",), RecordClass.READING, ("read_at",)),
    Goes(Visit, ("door",), WORK, ("planned_on", "closed_at")),
    Goes(Fitment, ("door",), WORK, ("fitted_on", "removed_on")),
    Goes(Counter, ("door",), RecordClass.READING, ("fitted_on", "removed_on")),
)
# What lies in the stock ledger and the accounts rests on these, and who a door was stays known.
STAYS = frozenset(
    {
        "DoorLabel",
        "LettingGo",
        "Mounting",
        "OutsideInvoice",
        "PartReturn",
        "PartTakenBack",
        "PartUsed",
        "StockMovement",
    }
)
