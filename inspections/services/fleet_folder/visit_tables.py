"""The tables of visits: what they were for, what was made ready, done, checked and handed on."""

from dataclasses import replace

from inspections.models import (
    MOST_MINUTES,
    Cause,
    FinalCheck,
    JobKind,
    JobOutcome,
    Mechanism,
    Repair,
    SafetyTick,
    Tick,
    Visit,
    VisitHandover,
    VisitJob,
    VisitMinutes,
    VisitState,
)
from inspections.services.fleet_folder.columns import Column
from inspections.services.fleet_folder.common_columns import (
    CORRECTED,
    DATE,
    DOOR,
    ENTERED_BY,
    TASK,
    WHOLE,
    WHY_CORRECTED,
)
from inspections.services.fleet_folder.linked_columns import (
    NO_DEPOT,
    NO_TRUCK,
    WHEN_ENTERED,
    YES_NO,
    code,
    door_of,
    link,
    linked,
    moment,
    person,
    text,
)

VISITS = linked(
    "visits",
    Visit,
    (
        DOOR,
        NO_TRUCK,
        NO_DEPOT,
        Column("planned_on", DATE, "planned_on", required=True),
        person("technician"),
        code("state", tuple(VisitState.values), required=True),
        moment("started_at"),
        moment("closed_at"),
        text("signed_by", 100),
        text("reason"),
        WHEN_ENTERED,
        ENTERED_BY,
    ),
    ("door", "planned_on", "entered_at"),
)
VISIT_JOBS = linked(
    "visit_jobs",
    VisitJob,
    (
        door_of("visit"),
        link("visit", "visits", required=True),
        code("kind", tuple(JobKind.values), required=True),
        replace(TASK, required=False),
        link("fault", "faults"),
        link("follow_up", "follow_ups"),
        link("defect_report", "defect_reports"),
        code("outcome", tuple(JobOutcome.values)),
        text("reason"),
        moment("done_at"),
        link("task_done", "tasks_done"),
    ),
    ("visit", "kind", "task", "fault", "follow_up", "defect_report"),
)
SAFETY_TICKS = linked(
    "safety_ticks",
    SafetyTick,
    (
        door_of("visit"),
        link("visit", "visits", required=True),
        code("tick", tuple(Tick.values), required=True),
        moment("ticked_at", required=True),
        person("ticked_by", required=True),
        text("skipped_reason"),
        moment("taken_back_at"),
        person("taken_back_by"),
    ),
    ("visit", "tick", "ticked_at"),
)
FINAL_CHECKS = linked(
    "final_checks",
    FinalCheck,
    (
        door_of("visit"),
        link("visit", "visits", required=True),
        *(Column(item, YES_NO, item, required=True) for item in FinalCheck.ITEMS),
        text("note", 500),
        moment("checked_at", required=True),
        person("checked_by", required=True),
        WHEN_ENTERED,
    ),
    ("visit", "checked_at", "checked_by"),
)
HANDOVERS = linked(
    "visit_handovers",
    VisitHandover,
    (
        door_of("visit"),
        link("visit", "visits", required=True),
        person("from_person"),
        person("to_person", required=True),
        text("note", 500),
        moment("handed_at", required=True),
    ),
    ("visit", "to_person", "handed_at"),
)
REPAIRS = linked(
    "repairs",
    Repair,
    (
        door_of("fault"),
        link("fault", "faults", required=True),
        link("visit", "visits"),
        code("mechanism", tuple(Mechanism.values)),
        code("cause", tuple(Cause.values)),
        moment("repaired_at", required=True),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "repairs"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("fault", "repaired_at", "entered_at"),
)
VISIT_MINUTES = linked(
    "visit_minutes",
    VisitMinutes,
    (
        door_of("visit"),
        link("visit", "visits", required=True),
        Column("minutes", WHOLE, "minutes", required=True, least=1, most=MOST_MINUTES),
        WHEN_ENTERED,
        ENTERED_BY,
        link("corrects", "visit_minutes"),
        CORRECTED,
        WHY_CORRECTED,
    ),
    ("visit", "entered_at", "minutes"),
)
