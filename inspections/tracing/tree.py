"""The tree put together: nodes, verdicts, and where each complaint enters.

Limits without a source are common practice; the door model's own come in through the context.
The order follows the current from the battery to the motor, easy to teach, behind a first look at
springs and cables that nothing skips.
"""

from __future__ import annotations

from inspections.tracing import (
    nodes_controls,
    nodes_converter,
    nodes_door,
    nodes_drive,
    nodes_supply,
)
from inspections.tracing.elements import Symptom, Tree, _
from inspections.tracing.predicates import Expression, both, value
from inspections.tracing.verdicts import VERDICTS

# Names that an expression may ask for beside fields, nodes and the context.
DERIVED: dict[str, Expression] = {
    "board_least": ("-", value("drive_volts_low"), 1.0),
    "drive_most": ("+", value("drive_volts_high"), 1.0),
    # Sagging to 29 V under load is near, below it is weak.
    "bus_least": ("-", value("drive_volts_low"), 2.0),
    "N04.least_volts": ("*", 0.9, ("first", value("N04.nominal_volts"), value("remote_volts"))),
    "N16.is_insulated": both(
        value("N16.insulated"), ("first", (">", value("N16.megohms"), 1.0), True)
    ),
    "N17.least_volts": (
        "min",
        ("abs", value("N17.opening_volts")),
        ("abs", value("N17.closing_volts")),
    ),
    "N18.drop_volts": (
        "-",
        ("abs", value("N18.board_volts")),
        ("abs", value("N18.motor_volts")),
    ),
    # What a sound cable of this length loses at this current; unknown without a current.
    "cable_volts": (
        "*",
        ("*", ("abs", value("N18.amps")), value("cable_ohms_at_20")),
        (
            "+",
            1.0,
            (
                "*",
                0.00393,
                ("-", ("first", value("N18.celsius"), value("celsius"), 20.0), 20.0),
            ),
        ),
    ),
    "drop_past_volts": (
        "first",
        ("max", 1.5, ("min", ("*", 2.0, value("cable_volts")), 5.0)),
        3.0,
    ),
    "drop_near_volts": (
        "first",
        (
            "min",
            ("max", 1.0, ("*", 1.5, value("cable_volts"))),
            value("drop_past_volts"),
        ),
        2.0,
    ),
    # The motor's own figure when new; else the type's; else what the fuse would not bear long.
    "N26.most_amps": (
        "first",
        ("*", 1.6, value("motor_baseline_amps")),
        value("motor_limit_amps"),
        value("fuse_amps"),
    ),
    "N50.worst_mm": (
        "max",
        value("N50.quarter_mm"),
        value("N50.half_mm"),
        value("N50.three_quarters_mm"),
    ),
}

SYMPTOMS = (
    Symptom("S1", ("N00", "N01"), ("supply", "fuse", "converter")),
    Symptom("S2", ("N00", "N04"), ("remote",), may_reorder=False),
    Symptom("S3", ("N00", "N12"), ("fuse", "cable", "motor", "mechanics")),
    Symptom("S4", ("N00", "N32"), ("supply", "mechanics", "converter")),
    Symptom("S5", ("N00", "N40"), ("sensors", "mechanics")),
    Symptom("S6", ("N00", "N40", "N12"), ("mechanics", "sensors", "supply")),
    Symptom("S7", ("N00", "N40"), ("sensors", "mechanics", "board")),
    Symptom(
        "S8",
        ("N00", "N50"),
        ("mechanics",),
        first=_("No power until the hand balance has passed. Start from the closed position."),
        cautions=("C8", "C1"),
        unpowered_until="N50",
        may_reorder=False,
    ),
    Symptom("S9", ("N00", "N45"), ("sensors",), may_reorder=False),
    Symptom("S10", ("N00", "N70"), ("cable", "fuse")),
    Symptom("S11", ("N00", "N50"), ("mechanics",)),
    Symptom("S12", ("N00", "N61"), (), may_reorder=False),
    Symptom(
        "S13",
        ("N00", "N27"),
        ("remote", "board"),
        first=_("Take the control power off and tag it out before anything else."),
        cautions=("C3", "C2"),
        unpowered_until="N27",
        may_reorder=False,
    ),
)

_NODES = (
    *nodes_controls.NODES,
    *nodes_supply.NODES,
    *nodes_converter.NODES,
    *nodes_drive.NODES,
    *nodes_door.NODES,
)
TREE = Tree(
    nodes={node.code: node for node in _NODES},
    verdicts={verdict.code: verdict for verdict in VERDICTS},
    symptoms={symptom.code: symptom for symptom in SYMPTOMS},
    derived=DERIVED,
)
