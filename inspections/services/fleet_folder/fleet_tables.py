"""The tables of what we have: depots, trucks, models, parts, tasks and doors."""

from dataclasses import replace

from django.utils.translation import gettext_lazy as _

from fleetdoors.models import (
    Component,
    ComponentKind,
    Depot,
    DoorModel,
    DoorUnit,
    Duty,
    FusePosition,
    LayUp,
    MaintenanceTask,
    Part,
    Performer,
    Setting,
    SeverityFactor,
    TaskKind,
    Truck,
    TruckDepot,
)
from fleetdoors.models.depot import validate_month_day, validate_setting, validate_timezone
from inspections.services.fleet_folder.columns import (
    Column,
    Keeping,
    Kind,
    Rule,
    Table,
    in_order,
)
from inspections.services.fleet_folder.common_columns import (
    COMPONENT,
    DATE,
    DEPOT,
    NUMBER,
    TASK,
    TEXT,
    TRUCK,
    WHOLE,
    can_be_joined,
    happened,
)

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
FUSE_POSITIONS = Table(
    "fuse_positions",
    FusePosition,
    (
        Column(
            "door_model",
            TEXT,
            "door_model__code",
            required=True,
            refers_to="door_models",
            max_length=60,
        ),
        Column("position", TEXT, "position", max_length=40),
        # What must be marked on the right fuse there.
        Column("kind", TEXT, "kind", required=True, max_length=60),
        Column("amps", NUMBER, "amps", required=True, least=0.1, most=1000),
        Column("volts", NUMBER, "volts", required=True, least=0.1, most=1000),
    ),
    key=("door_model", "position"),
    keeping=Keeping.LAST_WORD,
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
