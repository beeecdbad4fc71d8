"""The tables of what happened: readings, faults, work, parts used and stock."""

from dataclasses import replace

from inspections.codes import FAILURE_MODES, Action, Complaint, DetectedBy
from inspections.models import (
    CounterReading,
    Fault,
    PartUsed,
    ReadingStatus,
    Source,
    StockCount,
    TaskDone,
)
from inspections.services.fleet_folder.columns import (
    Column,
    Keeping,
    Kind,
    Table,
    in_order,
)
from inspections.services.fleet_folder.common_columns import (
    COMPONENT,
    CORRECTED,
    DATE,
    DEPOT,
    DOOR,
    ENTERED,
    ENTERED_BY,
    MOMENT,
    NUMBER,
    PART,
    TASK,
    TEXT,
    WHOLE,
    WHY_CORRECTED,
    happened,
)

READINGS = Table(
    "readings",
    CounterReading,
    (
        DOOR,
        replace(happened("read_at", "read_at", MOMENT), required=True),
        Column("counter_value", WHOLE, "counter_value", required=True, most=999_999_999),
        Column("read_by", TEXT, "read_by", max_length=100),
        Column("source", TEXT, "source", choices=tuple(Source.values)),
        Column("status", TEXT, "", choices=(*ReadingStatus.values, "corrected")),
        Column("corrected_value", WHOLE, "", most=999_999_999),
        CORRECTED,
        Column("ruling", TEXT, "", choices=tuple(ReadingStatus.values)),
        ENTERED,
    ),
    key=("door", "read_at"),
    keeping=Keeping.OWN,
)
FAULTS = Table(
    "faults",
    Fault,
    (
        DOOR,
        replace(happened("found_at", "found_at", MOMENT), required=True),
        Column("at_cycles", WHOLE, "at_cycles"),
        COMPONENT,
        Column("mode", TEXT, "mode", choices=tuple(FAILURE_MODES)),
        Column("complaint", TEXT, "complaint", choices=tuple(Complaint.values)),
        Column("detected_by", TEXT, "detected_by", choices=tuple(DetectedBy.values)),
        Column("is_failure", Kind.YES_NO, "is_failure", default=True),
        Column("action", TEXT, "action", choices=tuple(Action.values)),
        happened("off_road_from", "off_road_from", MOMENT),
        Column("off_road_until", MOMENT, "off_road_until"),
        Column("note", TEXT, "note", max_length=10_000),
        ENTERED,
        CORRECTED,
        ENTERED_BY,
        WHY_CORRECTED,
    ),
    key=("door", "found_at"),
    keeping=Keeping.COUNT,
    rules=(in_order("off_road_from", "off_road_until"),),
)
PARTS_USED = Table(
    "parts_used",
    PartUsed,
    (
        DOOR,
        replace(happened("used_at", "used_at", MOMENT), required=True),
        replace(PART, required=True),
        Column("quantity", WHOLE, "quantity", required=True, least=1, most=1_000_000),
        replace(DEPOT, required=False),
        Column("draws_on_stock", Kind.YES_NO, "draws_on_stock", default=False, identifies=False),
        ENTERED,
        CORRECTED,
        ENTERED_BY,
        WHY_CORRECTED,
        Column("taken_back_because", TEXT, "taken_back_because", identifies=False),
    ),
    key=("door", "used_at"),
    keeping=Keeping.COUNT,
)
TASKS_DONE = Table(
    "tasks_done",
    TaskDone,
    (
        DOOR,
        TASK,
        replace(happened("done_at", "done_at", MOMENT), required=True),
        Column("at_cycles", WHOLE, "at_cycles"),
        Column("done_by", TEXT, "done_by", max_length=100),
        ENTERED,
        CORRECTED,
        ENTERED_BY,
        WHY_CORRECTED,
    ),
    key=("door", "done_at"),
    keeping=Keeping.COUNT,
)
STOCK = Table(
    "stock",
    StockCount,
    (
        DEPOT,
        replace(PART, required=True),
        Column("on_hand", WHOLE, "on_hand", required=True, most=1_000_000_000),
        Column("on_order", WHOLE, "on_order", most=1_000_000_000),
        Column("expected_on", DATE, "expected_on"),
        Column("service_level", NUMBER, "service_level", least=0.5, most=0.9999),
        happened("counted_on", "counted_at", MOMENT),
        ENTERED,
    ),
    key=("depot", "part", "counted_on"),
    keeping=Keeping.OWN,
    local_to="depot",
)
