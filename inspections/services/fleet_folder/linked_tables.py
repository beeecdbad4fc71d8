"""The tables of what happened at the truck, each row with a mark by which others name it.

All of them are optional. A mark means something within its folder only; what makes two rows the
same is what they say, so that a folder read twice adds nothing.
"""

from dataclasses import replace

from inspections.codes import Complaint
from inspections.models import (
    AnswerKind,
    CauseShare,
    DefectReport,
    DefectState,
    DefectStep,
    FaultTrace,
    FollowUp,
    HoldReason,
    Inspection,
    InspectionKind,
    Judgement,
    Measurement,
    RoadHold,
    SpringAuthorisation,
    TraceAnswer,
)
from inspections.quantities import QUANTITIES
from inspections.services.fleet_folder.announced_table import ANNOUNCED_CHANGES
from inspections.services.fleet_folder.columns import Column, Kind
from inspections.services.fleet_folder.common_columns import (
    CORRECTED,
    DATE,
    DOOR,
    ENTERED_BY,
    NUMBER,
    TASK,
    WHOLE,
    WHY_CORRECTED,
)
from inspections.services.fleet_folder.cost_tables import LABOUR_RATES, OUTSIDE_INVOICES
from inspections.services.fleet_folder.label_table import DOOR_LABELS
from inspections.services.fleet_folder.linked_columns import (
    LONG,
    NO_TRUCK,
    WHEN_ENTERED,
    YES_NO,
    LinkedTable,
    any_number,
    code,
    door_of,
    link,
    linked,
    moment,
    person,
    text,
)
from inspections.services.fleet_folder.movement_tables import MOVEMENT_TABLES
from inspections.services.fleet_folder.one_off_tables import ONE_OFF_CHECKS, ONE_OFF_LOOKS
from inspections.services.fleet_folder.order_tables import ORDER_TABLES
from inspections.services.fleet_folder.visit_tables import (
    FINAL_CHECKS,
    HANDOVERS,
    REPAIRS,
    SAFETY_TICKS,
    VISIT_JOBS,
    VISIT_MINUTES,
    VISITS,
)
from inspections.tracing.likelihood import GROUPS

SPRING_WORDS = linked(
    "spring_authorisations",
    SpringAuthorisation,
    (
        person("person", required=True),
        Column("from_on", DATE, "from_on", required=True),
        Column("until_on", DATE, "until_on", required=True),
        text("granted_by", 100, required=True),
        text("evidence"),
        moment("withdrawn_at"),
    ),
    ("person", "from_on", "until_on", "granted_by"),
    local_to="",
)
INSPECTIONS = linked(
    "inspections",
    Inspection,
    (
        DOOR,
        link("visit", "visits"),
        code("kind", tuple(InspectionKind.values), required=True),
        moment("begun_at", required=True),
        Column("all_as_it_should_be", YES_NO, "all_as_it_should_be", default=False),
        text("inspector", 100, required=True),
        text("note", LONG),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("door", "kind", "begun_at", "entered_at"),
)
MEASUREMENTS = linked(
    "measurements",
    Measurement,
    (
        DOOR,
        link("inspection", "inspections"),
        link("visit", "visits"),
        code("quantity", tuple(QUANTITIES), required=True),
        replace(any_number("value"), required=True),
        moment("measured_at", required=True),
        Column("at_cycles", WHOLE, "at_cycles"),
        any_number("amps"),
        any_number("celsius"),
        Column("engine_running", YES_NO, "engine_running", default=False),
        any_number("limit_low"),
        any_number("near_low"),
        any_number("near_high"),
        any_number("limit_high"),
        text("limit_source"),
        code("judgement", tuple(Judgement.values), required=True),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "measurements"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("door", "inspection", "quantity", "measured_at", "entered_at"),
)
FOLLOW_UPS = linked(
    "follow_ups",
    FollowUp,
    (
        DOOR,
        TASK,
        text("because", 300),
        link("measurement", "measurements"),
        moment("opened_at", required=True),
        moment("closed_at"),
        link("task_done", "tasks_done"),
        text("closing_reason"),
        WHEN_ENTERED,
        moment("end_entered_at"),
        ENTERED_BY,
    ),
    ("door", "task", "opened_at", "entered_at", "because"),
)
DEFECT_REPORTS = linked(
    "defect_reports",
    DefectReport,
    (
        DOOR,
        NO_TRUCK,
        code("complaint", tuple(Complaint.values), required=True),
        text("words", LONG),
        text("reporter", 100, required=True),
        moment("reported_at", required=True),
        code("state", tuple(DefectState.values), required=True),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("door", "complaint", "reported_at", "reporter", "words"),
)
DEFECT_STEPS = linked(
    "defect_steps",
    DefectStep,
    (
        door_of("report"),
        link("report", "defect_reports", required=True),
        code("kind", tuple(DefectState.values), required=True),
        moment("taken_at", required=True),
        text("name", 100, required=True),
        text("role", 100),
        text("reason", 300),
        link("fault", "faults"),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("report", "kind", "taken_at"),
)
TRACES = linked(
    "fault_traces",
    FaultTrace,
    (
        DOOR,
        link("visit", "visits"),
        code("symptom", tuple(Complaint.values), required=True),
        moment("begun_at", required=True),
        person("begun_by"),
        Column("engine_running", YES_NO, "engine_running", default=False),
        text("verdict", 4),
        Column("is_unproven", YES_NO, "is_unproven", default=False),
        moment("closed_at"),
        link("fault", "faults"),
        WHEN_ENTERED,
    ),
    ("door", "symptom", "begun_at"),
)
TRACE_ANSWERS = linked(
    "trace_answers",
    TraceAnswer,
    (
        door_of("trace"),
        link("trace", "fault_traces", required=True),
        Column("sequence", WHOLE, "sequence", required=True, least=1, most=100_000),
        text("node", 4, required=True),
        code("kind", tuple(AnswerKind.values), required=True),
        Column("values", Kind.FACTS, "values", max_length=LONG),
        text("jump_reason"),
        moment("answered_at", required=True),
        person("answered_by"),
        moment("withdrawn_at"),
    ),
    ("trace", "sequence"),
)
ROAD_HOLDS = linked(
    "road_holds",
    RoadHold,
    (
        DOOR,
        NO_TRUCK,
        code("because", tuple(HoldReason.values), required=True),
        text("detail", 300),
        moment("placed_at", required=True),
        person("placed_by"),
        moment("lifted_at"),
        person("lifted_by"),
        text("signed_by", 100),
        text("signed_role", 100),
        text("what_was_done", 300),
        WHEN_ENTERED,
        moment("end_entered_at"),
    ),
    ("door", "because", "placed_at"),
)
CAUSE_SHARES = linked(
    "cause_shares",
    CauseShare,
    (
        code("group", tuple(GROUPS), required=True),
        Column("percent", NUMBER, "percent", required=True, most=100),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "cause_shares"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("group", "entered_at"),
    local_to="",
)

# In the order in which each finds what it names.
LINKED_TABLES: tuple[LinkedTable, ...] = (
    SPRING_WORDS,
    DOOR_LABELS,
    VISITS,
    INSPECTIONS,
    MEASUREMENTS,
    FOLLOW_UPS,
    DEFECT_REPORTS,
    DEFECT_STEPS,
    TRACES,
    TRACE_ANSWERS,
    VISIT_JOBS,
    SAFETY_TICKS,
    FINAL_CHECKS,
    HANDOVERS,
    REPAIRS,
    ROAD_HOLDS,
    CAUSE_SHARES,
    VISIT_MINUTES,
    LABOUR_RATES,
    OUTSIDE_INVOICES,
    ANNOUNCED_CHANGES,
    *ORDER_TABLES,
    *MOVEMENT_TABLES,
    ONE_OFF_CHECKS,
    ONE_OFF_LOOKS,
)
LINKED_BY_NAME = {table.name: table for table in LINKED_TABLES}
