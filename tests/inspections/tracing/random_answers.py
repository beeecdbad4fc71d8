"""Answers that no one door would give: values around every limit, in any combination."""

from __future__ import annotations

from random import Random
from typing import Any

from inspections.tracing.answers import Answer
from inspections.tracing.context import Context
from inspections.tracing.elements import Field, Kind, Node
from inspections.tracing.engine import Position, allowed_jumps
from inspections.tracing.tree import TREE

# Around the limits of 12 and 24 V trucks, and the limits themselves.
VALUES: dict[str, tuple[float, ...]] = {
    "battery_volts": (0.2, 10.5, 11.4, 11.5, 12.2, 12.3, 12.4, 12.7, 13.9, 22.9, 24.8, 27.9, 28.4),
    "converter_volts": (0.0, 0.4, 2.0, 11.8, 13.4, 24.4, 27.5, 28.9, 29.0, 30.0, 31.0, 32.1, 33.5,
                        34.6),
    "motor_volts": (0.0, 1.9, 2.0, 12.0, 26.0, 28.0, 29.5, 30.4, 31.0, 32.0, -31.0),
    "drop_volts": (0.0, 0.1, 0.2, 0.3, 0.9, 1.0, 3.0),
    "remote_volts": (2.4, 2.7, 3.0, 10.8, 12.0),
    "amps": (0.0, 0.04, 5.0, 9.0, 13.0, 14.4, 22.0),
    "celsius": (-20.0, 20.0, 45.0),
    "ohms": (0.1, 1.0, 40.0),
    "megohms": (0.0, 1.0, 20.0),
    "newtons": (20.0, 50.0, 51.0, 100.0, 101.0, 240.0),
    "millimetres": (0.0, 50.0, 51.0, 150.0, 151.0, 400.0),
    "seconds": (8.0, 14.0),
    "counts": (0.0, 3.0, 6.0, 99_999.0, 99_997.0),
}  # fmt: skip
CONTEXTS = (
    Context(),
    Context(supply_volts=24.0, cable_awg=16, cable_metres=8.0),
    Context(engine_running=True, cable_awg=14, cable_metres=6.5, motor_baseline_amps=9.0),
    Context(supply_volts=24.0, engine_running=True, fuse_amps=20.0, counts_per_cycle=2),
    Context(drive_volts=36.0, drive_volts_low=35.0, drive_volts_high=37.0, counter_digits=5,
            motor_limit_amps=14.0, celsius=-10.0, cable_awg=12, cable_metres=5.0),
)  # fmt: skip


def any_value(random: Random, field: Field) -> Any:
    """A value that a person could type into this field."""
    if field.kind == "yes_no":
        return random.random() < 0.7
    if field.kind == "choice":
        return random.choice(field.options)[0]
    return random.choice(VALUES[field.quantity])


def any_answer(random: Random, node: Node, *, reason: str = "") -> Answer:
    """An answer that fits the node; one in eight cannot tell, some of them with part of it."""
    cannot = random.random() < 0.125
    wanted = [
        field for field in node.fields if random.random() < 0.5 or (field.required and not cannot)
    ]
    values = {field.name: any_value(random, field) for field in wanted}
    if cannot:
        return Answer(node.code, "cannot_tell", values, reason)
    if node.kind is Kind.YES_NO:
        return Answer(node.code, random.choice(("yes", "yes", "no")), values, reason)
    return Answer(node.code, "measured", values, reason)


def next_answer(random: Random, position: Position, *, jumps: float = 0.1) -> Answer:
    """An allowed answer where the trace stands: to the question, by a jump, or a signature."""
    if position.is_hard_stop:
        return Answer(str(position.verdict), "signed", reason="T. Rained")
    elsewhere = allowed_jumps(position)
    if elsewhere and random.random() < jumps:
        node = TREE.nodes[random.choice(elsewhere)]
        return any_answer(random, node, reason="seen by chance")
    return any_answer(random, TREE.nodes[str(position.node or position.next_node)])
