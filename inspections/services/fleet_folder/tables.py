"""The tables of a fleet folder, in the order in which they are read and written."""

from dataclasses import replace

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import (
    Component,
    ComponentKind,
    Counter,
    Depot,
    DoorModel,
    DoorUnit,
    Duty,
    Fitment,
    LayUp,
    MaintenanceTask,
    Mounting,
    Part,
    Performer,
    Removal,
    Setting,
    SeverityFactor,
    TaskKind,
    Truck,
    TruckDepot,
)
from fleetdoors.models.depot import validate_month_day, validate_setting, validate_timezone
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
    Rule,
    Table,
    in_order,
)

TEXT, WHOLE, NUMBER = Kind.TEXT, Kind.WHOLE, Kind.NUMBER
DATE, MOMENT = Kind.DATE, Kind.MOMENT


def can_be_joined(code: str) -> None:
    """Refuse a code that would fall apart where several are joined by a plus sign."""
    if "+" in code:
        raise ValidationError(_("must not contain +, which joins codes"))


def happened(name: str, lookup: str, kind: Kind = DATE) -> Column:
    return Column(name, kind, lookup, has_happened=True)


DOOR = Column("door", TEXT, "door__serial", required=True, refers_to="doors", max_length=80)
TRUCK = Column(
    "truck", TEXT, "truck__fleet_number", required=True, refers_to="trucks", max_length=60
)
DEPOT = Column("depot", TEXT, "depot__code", required=True, refers_to="depots", max_length=40)
PART = Column("part", TEXT, "part__part_number", refers_to="parts", max_length=80)
COMPONENT = Column("component", TEXT, "component__code", refers_to="components", max_length=40)
TASK = Column("task", TEXT, "task__code", required=True, refers_to="tasks", max_length=10)
ENTERED = replace(happened("entered_at", "entered_at", MOMENT), identifies=False)
END_ENTERED = replace(happened("end_entered_at", "end_entered_at", MOMENT), identifies=False)
CORRECTED = replace(happened("corrected_at", "superseded_at", MOMENT), identifies=False)

DEPOTS = Table(
    "depots",
    Depot,
    (
        Column("depot", TEXT, "code", required=True, max_length=40),
        Column("name", TEXT, "name"),
        Column("timezone", TEXT, "timezone", max_length=64, validator=validate_timezone),
        Column("setting", TEXT, "setting", max_length=80, validator=validate_setting),
        Column("bay_hours_per_day", NUMBER, "bay_hours_per_day", most=1200),
        Column("salt_from", TEXT, "salt_from", max_length=5, validator=validate_month_day),
        Column("salt_until", TEXT, "salt_until", max_length=5, validator=validate_month_day),
    ),
    key=("depot",),
    keeping=Keeping.LAST_WORD,
)
TRUCKS = Table(
    "trucks",
    Truck,
    (
        Column("truck", TEXT, "fleet_number", required=True, max_length=60),
        DEPOT,
        Column("route_kind", TEXT, "route_kind", max_length=60),
        Column("make", TEXT, "make", max_length=100),
        Column("serial_number", TEXT, "serial_number", max_length=100),
        Column("model_year", WHOLE, "model_year", least=1900, most=2100),
        Column("tire_size", TEXT, "tire_size", max_length=60),
        Column("owner", TEXT, "owner"),
        Column("in_service_on", DATE, "in_service_on"),
        Column("disposed_on", DATE, "disposed_on"),
    ),
    key=("truck",),
    keeping=Keeping.LAST_WORD,
    rules=(in_order("in_service_on", "disposed_on"),),
)
TRUCK_DEPOTS = Table(
    "truck_depots",
    TruckDepot,
    (
        TRUCK,
        DEPOT,
        Column("from_on", DATE, "from_on", required=True),
        Column("until_on", DATE, "until_on"),
    ),
    key=("truck", "from_on"),
    keeping=Keeping.FILL,
    rules=(in_order("from_on", "until_on"),),
)
LAY_UPS = Table(
    "lay_ups",
    LayUp,
    (
        TRUCK,
        Column("from_on", DATE, "from_on", required=True),
        Column("until_on", DATE, "until_on"),
        Column("reason", TEXT, "reason"),
    ),
    key=("truck", "from_on"),
    keeping=Keeping.FILL,
    rules=(in_order("from_on", "until_on"),),
)
DOOR_MODELS = Table(
    "door_models",
    DoorModel,
    (
        Column("door_model", TEXT, "code", required=True, max_length=60, validator=can_be_joined),
        Column("supply_volts", NUMBER, "supply_volts", most=1000),
        Column("drive_volts", NUMBER, "drive_volts", most=1000),
        Column("drive_volts_low", NUMBER, "drive_volts_low", most=1000),
        Column("drive_volts_high", NUMBER, "drive_volts_high", most=1000),
        Column("counter_digits", WHOLE, "counter_digits", least=3, most=9),
        Column("counts_per_cycle", WHOLE, "counts_per_cycle", least=1, most=2),
        Column("cable_awg", WHOLE, "cable_awg", most=60),
        Column("cable_metres", NUMBER, "cable_metres", most=1000),
        Column("sensor_offset_mm", NUMBER, "sensor_offset_mm", least=-1000, most=1000),
        Column("spring_class_cycles", WHOLE, "spring_class_cycles", most=2_000_000_000),
    ),
    key=("door_model",),
    keeping=Keeping.LAST_WORD,
    rules=(in_order("drive_volts_low", "drive_volts"), in_order("drive_volts", "drive_volts_high")),
)
COMPONENTS = Table(
    "components",
    Component,
    (
        Column("component", TEXT, "code", required=True, max_length=40),
        Column("name", TEXT, "name", max_length=100, stand_in="component"),
        Column("kind", TEXT, "kind", choices=tuple(ComponentKind.values)),
    ),
    key=("component",),
    keeping=Keeping.LAST_WORD,
)
TASKS = Table(
    "tasks",
    MaintenanceTask,
    (
        Column("task", TEXT, "code", required=True, max_length=10),
        Column("name", TEXT, "name", stand_in="task"),
        Column("interval_cycles", WHOLE, "interval_cycles", least=1, most=2_000_000_000),
        Column("interval_days", WHOLE, "interval_days", least=1, most=100_000),
        Column("minutes", WHOLE, "minutes", most=100_000),
        Column("spring_class_share", NUMBER, "spring_class_share", most=1),
        Column("performer", TEXT, "performer", choices=tuple(Performer.values)),
        Column("kind", TEXT, "kind", choices=tuple(TaskKind.values)),
        Column("is_on_due_lists", Kind.YES_NO, "is_on_due_lists"),
        Column("window_before_percent", WHOLE, "window_before_percent", most=50),
        Column("window_after_percent", WHOLE, "window_after_percent", most=100),
        Column("contains", Kind.SEVERAL, "contains", refers_to="tasks"),
    ),
    key=("task",),
    keeping=Keeping.LAST_WORD,
)
SEVERITY_FACTORS = Table(
    "severity_factors",
    SeverityFactor,
    (
        TASK,
        Column(
            "condition",
            TEXT,
            "condition",
            required=True,
            choices=(*Setting.values, *Duty.values),
        ),
        Column("factor", NUMBER, "factor", required=True, least=0.01, most=2),
    ),
    key=("task", "condition"),
    keeping=Keeping.LAST_WORD,
)
PARTS = Table(
    "parts",
    Part,
    (
        Column("part", TEXT, "part_number", required=True, max_length=80),
        Column("name", TEXT, "name", required=True),
        COMPONENT,
        Column("unit_cost", Kind.MONEY, "unit_cost", most=9_999_999_999),
        Column("currency", TEXT, "currency", max_length=3),
        Column("lead_time_days", NUMBER, "lead_time_days", most=10_000),
        Column("lead_time_sd_days", NUMBER, "lead_time_sd_days", most=10_000),
        Column("pack_size", WHOLE, "pack_size", least=1, most=1_000_000),
        Column("shelf_life_days", WHOLE, "shelf_life_days", most=100_000),
        Column("fits", Kind.SEVERAL, "fits", refers_to="door_models"),
        Column("revision", TEXT, "revision", max_length=40),
        Column("replaces", TEXT, "replaces__part_number", refers_to="parts", max_length=80),
        Column("rating", TEXT, "rating", max_length=100),
    ),
    key=("part",),
    keeping=Keeping.LAST_WORD,
    rules=(
        Rule(
            "replaces",
            _("a part must not replace itself"),
            lambda row: row["replaces"] is None or row["replaces"] != row["part"],
        ),
    ),
)
DOORS = Table(
    "doors",
    DoorUnit,
    (
        Column("door", TEXT, "serial", required=True, max_length=80),
        Column(
            "door_model",
            TEXT,
            "door_model__code",
            required=True,
            refers_to="door_models",
            max_length=60,
        ),
        # The present mounting, kept in its own table.
        replace(TRUCK, lookup="", required=False),
        happened("mounted_on", ""),
        Column("opening_cycles", WHOLE, "opening_cycles"),
        happened("record_from", "record_from"),
        Column("retired_on", DATE, "retired_on"),
    ),
    key=("door",),
    keeping=Keeping.LAST_WORD,
    rules=(in_order("record_from", "retired_on"),),
)
MOUNTINGS = Table(
    "mountings",
    Mounting,
    (
        DOOR,
        TRUCK,
        replace(happened("mounted_on", "mounted_on"), required=True),
        Column("removed_on", DATE, "removed_on"),
        ENTERED,
        END_ENTERED,
    ),
    key=("door", "mounted_on"),
    keeping=Keeping.FILL,
    ending="removed_on",
    rules=(in_order("mounted_on", "removed_on"),),
)
COUNTERS = Table(
    "counters",
    Counter,
    (
        DOOR,
        Column("counter", TEXT, "serial", required=True, max_length=80),
        replace(happened("fitted_on", "fitted_on"), required=True),
        Column("first_value", WHOLE, "first_value", required=True),
        happened("removed_on", "removed_on"),
        Column("last_value", WHOLE, "last_value"),
        Column("digits", WHOLE, "digits", least=3, most=9),
        Column("counts_per_cycle", WHOLE, "counts_per_cycle", least=1, most=2),
        ENTERED,
        END_ENTERED,
    ),
    key=("door", "counter"),
    keeping=Keeping.FILL,
    ending="removed_on",
    rules=(
        in_order("fitted_on", "removed_on"),
        Rule(
            "last_value",
            _("a counter with a last value needs the day on which it was removed"),
            lambda row: row["last_value"] is None or row["removed_on"] is not None,
        ),
    ),
)
FITMENTS = Table(
    "fitments",
    Fitment,
    (
        DOOR,
        replace(COMPONENT, required=True),
        Column("position", TEXT, "position", max_length=40),
        PART,
        happened("fitted_on", "fitted_on"),
        Column("fitted_at_cycles", WHOLE, "fitted_at_cycles"),
        Column("observed_from_cycles", WHOLE, "observed_from_cycles"),
        happened("removed_on", "removed_on"),
        Column("removed_at_cycles", WHOLE, "removed_at_cycles"),
        Column("removal", TEXT, "removal", choices=tuple(Removal.values)),
        ENTERED,
        END_ENTERED,
    ),
    key=("door", "component", "position", "fitted_on", "fitted_at_cycles"),
    keeping=Keeping.FILL,
    ending="removal",
    rules=(
        in_order("fitted_on", "removed_on"),
        in_order("fitted_at_cycles", "removed_at_cycles"),
        in_order("fitted_at_cycles", "observed_from_cycles"),
        in_order("observed_from_cycles", "removed_at_cycles"),
        Rule(
            "removal",
            _("a removed part needs the reason of its removal"),
            lambda row: (
                row["removal"] is not None
                or (row["removed_on"] is None and row["removed_at_cycles"] is None)
            ),
        ),
        Rule(
            "removal",
            _("a removal needs its day or its cycles"),
            lambda row: (
                row["removal"] is None
                or row["removed_on"] is not None
                or row["removed_at_cycles"] is not None
            ),
        ),
    ),
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

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        DEPOTS,
        TRUCKS,
        TRUCK_DEPOTS,
        LAY_UPS,
        DOOR_MODELS,
        COMPONENTS,
        TASKS,
        SEVERITY_FACTORS,
        PARTS,
        DOORS,
        MOUNTINGS,
        COUNTERS,
        FITMENTS,
        READINGS,
        FAULTS,
        PARTS_USED,
        TASKS_DONE,
        STOCK,
    )
}
