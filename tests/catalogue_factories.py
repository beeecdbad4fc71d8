"""Builders for the catalogue of preventive tasks: kits and changes."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fleetdoors.models import MaintenanceTask, Part, TaskChange, TaskKit, User
from fleetdoors.services.task_catalogue import change_task
from fleetdoors.services.task_sheet import TaskSheet, sheet_of
from tests.factories import NOW, make_part, make_user, task


def make_kit(*, code: str = "LUB", part: Part | None = None, quantity: int = 1) -> TaskKit:
    return TaskKit.objects.create(task=task(code), part=part or make_part(), quantity=quantity)


def make_change(*, code: str = "LUB", reason: str = "seen at the door") -> TaskChange:
    return TaskChange.objects.create(
        task=task(code),
        before=None,
        after=sheet_of(task(code)).to_json(),
        changed_at=NOW,
        changed_by=make_user(),
        reason=reason,
    )


def altered_sheet(found: MaintenanceTask, **changes: Any) -> TaskSheet:
    """A task's present sheet with other values in it."""
    return TaskSheet(**{**vars(sheet_of(found)), **changes})


def alter(
    code: str, *, by: User, at: datetime = NOW, reason: str = "tried", **changes: Any
) -> TaskChange:
    """Change a task in the catalogue."""
    found = task(code)
    return change_task(
        task=found, sheet=altered_sheet(found, **changes), by=by, at=at, reason=reason
    )
