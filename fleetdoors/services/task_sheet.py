"""A preventive task as one sheet: what a person fills in, and what its history keeps."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

from fleetdoors.models import MaintenanceTask, SeverityFactor, TaskKit


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


def every_sheet() -> dict[str, TaskSheet]:
    """What the catalogue says of every task now, by code; queries four times."""
    factors: dict[int, dict[str, float]] = {}
    inside: dict[int, list[str]] = {}
    kits: dict[int, dict[str, int]] = {}
    rows = SeverityFactor.objects.order_by("condition")
    for task, condition, factor in rows.values_list("task", "condition", "factor"):
        factors.setdefault(task, {})[condition] = factor
    pairs = MaintenanceTask.contains.through.objects.order_by("to_maintenancetask__code")
    for task, code in pairs.values_list("from_maintenancetask", "to_maintenancetask__code"):
        inside.setdefault(task, []).append(code)
    parts = TaskKit.objects.order_by("part__part_number")
    for task, number, quantity in parts.values_list("task", "part__part_number", "quantity"):
        kits.setdefault(task, {})[number] = quantity
    return {
        task.code: TaskSheet(
            **{name: getattr(task, name) for name in COLUMNS},
            factors=factors.get(task.pk, {}),
            contains=tuple(inside.get(task.pk, ())),
            kit=kits.get(task.pk, {}),
        )
        for task in MaintenanceTask.objects.order_by("code")
    }


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
