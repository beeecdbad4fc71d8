"""What was changed in the catalogue, field by field, by whom and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from analytics.datasets.catalogue import CONDITIONS
from fleetdoors.models import (
    Duty,
    MaintenanceTask,
    Performer,
    Setting,
    TaskChange,
    TaskKind,
)
from fleetdoors.services.task_sheet import TaskSheet
from fleetdoors.templatetags.units import number

MOST_SHOWN = 40
_CONDITIONS = dict((*Setting.choices, *Duty.choices))


@dataclass(frozen=True)
class ChangeShown:
    """One change: what stood before and after in each field it touched."""

    pk: int
    code: str
    at: datetime
    by: str
    reason: str
    fields: tuple[tuple[str, str, str], ...]
    is_undo: bool
    is_undone: bool


def history(task: MaintenanceTask | None = None) -> list[ChangeShown]:
    """The latest changes of a task, or of all; runs one query."""
    changes = TaskChange.objects.newest_first()
    if task is not None:
        changes = changes.filter(task=task)
    return [_shown(change) for change in changes[:MOST_SHOWN]]


def _shown(change: TaskChange) -> ChangeShown:
    return ChangeShown(
        pk=change.pk,
        code=change.task.code,
        at=change.changed_at,
        by=str(change.changed_by or _("a fleet folder")),
        reason=change.reason,
        fields=changed_fields(change),
        is_undo=change.undoes_id is not None,
        is_undone=hasattr(change, "undone_by"),
    )


def changed_fields(change: TaskChange) -> tuple[tuple[str, str, str], ...]:
    """Name, value before and value after of each field that a change touched."""
    after = TaskSheet.from_json(change.after)
    if change.before is None:
        return ((_("new task"), "–", after.name),)
    before = TaskSheet.from_json(change.before)
    return tuple(
        (
            field_name(name),
            value_words(name, vars(before)[name]),
            value_words(name, vars(after)[name]),
        )
        for name in after.differs_in(before)
    )


def field_name(name: str) -> str:
    """A field of the sheet in words."""
    if name in ("factors", "kit"):
        return {"factors": _("severity factors"), "kit": _("kit")}[name]
    return str(MaintenanceTask._meta.get_field(name).verbose_name)  # type: ignore[union-attr]


def value_words(name: str, value: Any) -> str:
    """A value of the sheet as a person reads it."""
    if value in (None, "", (), {}):
        return "–"
    if name in _WORDS:
        return _WORDS[name](value)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return number(value) if isinstance(value, int) else str(value)


def _factor_words(factors: dict[str, float]) -> str:
    known = [each for each in CONDITIONS if each in factors]
    return ", ".join(f"{_CONDITIONS[each]} {factors[each]:g}" for each in known)


_WORDS: dict[str, Callable[[Any], str]] = {
    "factors": _factor_words,
    "kit": lambda kit: ", ".join(f"{pieces} × {part}" for part, pieces in kit.items()),
    "contains": ", ".join,
    "performer": lambda word: str(Performer(word).label),
    "kind": lambda word: str(TaskKind(word).label),
    "spring_class_share": lambda share: f"{share:g}",
}
