"""The tables of what was on a door and when: its trucks, its counters and its parts."""

from dataclasses import replace

from django.utils.translation import gettext_lazy as _

from fleetdoors.models import (
    Counter,
    Fitment,
    Mounting,
    Removal,
)
from inspections.services.fleet_folder.columns import (
    Column,
    Keeping,
    Rule,
    Table,
    in_order,
)
from inspections.services.fleet_folder.common_columns import (
    COMPONENT,
    DATE,
    DOOR,
    END_ENTERED,
    ENTERED,
    PART,
    TEXT,
    TRUCK,
    WHOLE,
    happened,
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
