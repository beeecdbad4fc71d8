"""The numbers of a node's pass band at this door, to show beside the inputs."""

from __future__ import annotations

from dataclasses import dataclass

from inspections.tracing.context import Context
from inspections.tracing.elements import Node, Tree
from inspections.tracing.engine import Position
from inspections.tracing.predicates import Expression, Value, evaluate
from inspections.tracing.tree import TREE


@dataclass(frozen=True)
class FieldLimits:
    """Pass band of one field; None where there is no bound, or what sets it is not known yet."""

    field: str
    low: float | None
    high: float | None


def limits_of(
    node: Node, context: Context, position: Position | None = None, tree: Tree = TREE
) -> tuple[FieldLimits, ...]:
    """Limits of every field, from the context and what the trace knows already."""
    known: dict[str, Value] = context.values() | (position.known if position else {})

    def number(expression: Expression) -> float | None:
        found = evaluate(expression, known, tree.derived)
        is_number = isinstance(found, int | float) and not isinstance(found, bool)
        return round(float(found), 6) if is_number else None  # type: ignore[arg-type]

    return tuple(
        FieldLimits(each.name, number(each.low), number(each.high)) for each in node.fields
    )
