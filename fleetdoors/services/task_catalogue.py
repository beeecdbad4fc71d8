"""Changing the catalogue of preventive tasks: what stood before, who changed it and why is kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import MaintenanceTask, Part, SeverityFactor, TaskChange, TaskKit, User
from fleetdoors.services.recomputation import fleet_changed
from fleetdoors.services.task_sheet import COLUMNS, TaskSheet, every_sheet, sheet_of


class CatalogueError(Exception):
    """A change of the catalogue that cannot be made; its text says which rule forbids it."""


class NothingChangedError(CatalogueError):
    """The sheet says what the catalogue says already."""


class InACircleError(CatalogueError):
    """A task would contain itself."""


class ChangedSinceError(CatalogueError):
    """What is to be undone was changed again since."""


@transaction.atomic
def change_task(
    *, task: MaintenanceTask, sheet: TaskSheet, by: User, at: datetime, reason: str
) -> TaskChange:
    """Write a task's new sheet, keep the old one, and ask for new due dates."""
    before = sheet_of(MaintenanceTask.objects.select_for_update().get(pk=task.pk))
    if not before.differs_in(sheet):
        raise NothingChangedError(_("Nothing was changed: the catalogue says this already."))
    return _write(task, before, sheet, by=by, at=at, reason=reason)


@transaction.atomic
def add_task(*, code: str, sheet: TaskSheet, by: User, at: datetime, reason: str) -> TaskChange:
    """Begin a new task; it is due on each door as one that was never done."""
    if MaintenanceTask.objects.filter(code=code).exists():
        raise CatalogueError(_("There is a task %(code)s already.") % {"code": code})
    task = MaintenanceTask.objects.create(code=code, name=sheet.name)
    return _write(task, None, sheet, by=by, at=at, reason=reason)


@transaction.atomic
def undo_change(*, change: TaskChange, by: User, at: datetime, reason: str) -> TaskChange:
    """Put back what stood before a change, where nothing else was changed in it since."""
    task = MaintenanceTask.objects.select_for_update().get(pk=change.task_id)
    wanted = undone_sheet(change, sheet_of(task))
    undone = _write(task, sheet_of(task), wanted, by=by, at=at, reason=reason)
    undone.undoes = change
    undone.save(update_fields=["undoes"])
    return undone


def undone_sheet(change: TaskChange, now: TaskSheet) -> TaskSheet:
    """The present sheet with what a change altered put back; refuses where that is not to be."""
    if hasattr(change, "undone_by"):
        raise CatalogueError(_("This change has been undone already."))
    after = TaskSheet.from_json(change.after)
    if change.before is None:
        # A task that was added is not deleted, for it may have been done: it leaves the lists.
        before = replace(after, is_on_due_lists=False)
    else:
        before = TaskSheet.from_json(change.before)
    altered = after.differs_in(before)
    if not altered:
        raise NothingChangedError(_("There is nothing to put back."))
    if set(altered) & set(now.differs_in(after)):
        raise ChangedSinceError(
            _("The same was changed again since. Undo the later change first, or type a new value.")
        )
    return replace(now, **{name: getattr(before, name) for name in altered})


def _write(
    task: MaintenanceTask,
    before: TaskSheet | None,
    sheet: TaskSheet,
    *,
    by: User,
    at: datetime,
    reason: str,
) -> TaskChange:
    inside = MaintenanceTask.objects.filter(code__in=sheet.contains)
    refuse_circle(task, inside.values_list("pk", flat=True))
    for name in COLUMNS:
        setattr(task, name, getattr(sheet, name))
    task.save()
    _write_factors(task, sheet)
    _write_kit(task, sheet)
    task.contains.set(inside)
    return keep_change(task=task, before=before, after=sheet, by=by, at=at, reason=reason)


def keep_changes_since(before: Mapping[str, TaskSheet], *, at: datetime, reason: str) -> None:
    """Keep what was written of tasks by something other than a person at a page.

    Call it in the transaction of the writing, with the sheets from before it.
    """
    after = every_sheet()
    changed = [code for code, sheet in after.items() if before.get(code) != sheet]
    for task in MaintenanceTask.objects.filter(code__in=changed).order_by("code"):
        old, new = before.get(task.code), after[task.code]
        keep_change(task=task, before=old, after=new, by=None, at=at, reason=reason)


def keep_change(
    *,
    task: MaintenanceTask,
    before: TaskSheet | None,
    after: TaskSheet,
    by: User | None,
    at: datetime,
    reason: str,
) -> TaskChange:
    """Keep what was written of a task, and ask for new due dates; call it in the same transaction.

    Whoever writes a task, from whichever page, ends here.
    """
    change = TaskChange.objects.create(
        task=task,
        before=None if before is None else before.to_json(),
        after=after.to_json(),
        changed_at=at,
        changed_by=by,
        reason=reason,
    )
    fleet_changed()
    return change


def _write_factors(task: MaintenanceTask, sheet: TaskSheet) -> None:
    task.severity_factors.exclude(condition__in=sheet.factors).delete()
    for condition, factor in sheet.factors.items():
        SeverityFactor.objects.update_or_create(
            task=task, condition=condition, defaults={"factor": factor}
        )


def _write_kit(task: MaintenanceTask, sheet: TaskSheet) -> None:
    task.kit.exclude(part__part_number__in=sheet.kit).delete()
    for part in Part.objects.filter(part_number__in=sheet.kit):
        TaskKit.objects.update_or_create(
            task=task, part=part, defaults={"quantity": sheet.kit[part.part_number]}
        )


def refuse_circle(task: MaintenanceTask, inner_ids: Iterable[int]) -> None:
    """Refuse that a task should contain these, if it would contain itself; runs two queries."""
    inside: dict[int, set[int]] = {}
    pairs = MaintenanceTask.contains.through.objects.values_list(
        "from_maintenancetask_id", "to_maintenancetask_id"
    )
    for outer, inner in pairs:
        inside.setdefault(outer, set()).add(inner)
    reached, fresh = set[int](), set(inner_ids)
    while fresh:
        reached |= fresh
        fresh = {each for outer in fresh for each in inside.get(outer, ())} - reached
    if task.pk in reached:
        raise InACircleError(
            _("%(code)s would contain itself by way of a task inside it.") % {"code": task.code}
        )
