"""A preventive task as one sheet: what a person fills in, and what its history keeps."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

from fleetdoors.models import MaintenanceTask


@dataclass(frozen=True)
class TaskSheet:
    """Everything that the catalogue says of a task.

    `factors`: condition to factor; `contains`: codes of the tasks done along; `kit`: part number
    to the pieces used at each doing.
    """

    name: str
    interval_cycles: int | None
    interval_days: int | None
    spring_class_share: float | None
    minutes: int
    performer: str
    kind: str
    is_on_due_lists: bool
    window_before_percent: int
    window_after_percent: int
    factors: dict[str, float] = field(default_factory=dict)
    contains: tuple[str, ...] = ()
    kit: dict[str, int] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """As the history keeps it."""
        return asdict(self) | {"contains": list(self.contains)}

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> TaskSheet:
        """From what the history kept."""
        return cls(**{**kept, "contains": tuple(kept["contains"])})

    def differs_in(self, other: TaskSheet) -> tuple[str, ...]:
        """The fields in which another sheet says something else."""
        return tuple(name for name, value in vars(self).items() if value != vars(other)[name])


COLUMNS = (
    "name",
    "interval_cycles",
    "interval_days",
    "spring_class_share",
    "minutes",
    "performer",
    "kind",
    "is_on_due_lists",
    "window_before_percent",
    "window_after_percent",
)


def sheet_of(task: MaintenanceTask) -> TaskSheet:
    """What the catalogue says of a task now; queries three times."""
    factors = task.severity_factors.order_by("condition").values_list("condition", "factor")
    kit = task.kit.order_by("part__part_number").values_list("part__part_number", "quantity")
    return TaskSheet(
        **{name: getattr(task, name) for name in COLUMNS},
        factors=dict(factors),
        contains=tuple(task.contains.order_by("code").values_list("code", flat=True)),
        kit=dict(kit),
    )
