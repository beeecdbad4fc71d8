"""Preventive tasks are done, and what was written about them is corrected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, MaintenanceTask, User
from fleetdoors.services.recomputation import doors_changed
from inspections.models import TaskDone
from inspections.moments import in_words
from inspections.services.corrections import sign, supersede

FUTURE_ALLOWED = timedelta(days=1)


class TaskDoneRefusedError(ValueError):
    """The work cannot have been done as entered; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class WorkDone:
    """What was done, when, at how many lifetime cycles (None = from the readings), by whom."""

    task: MaintenanceTask
    done_at: datetime
    at_cycles: int | None = None
    done_by: str = ""


@transaction.atomic
def record_task_done(
    *, door: DoorUnit, work: WorkDone, entered_at: datetime, entered_by: User | None = None
) -> TaskDone:
    """Keep a task done; the same task at the same moment twice is one."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    _check(door, work, entered_at)
    same = TaskDone.objects.in_force().filter(door=door, task=work.task, done_at=work.done_at)
    existing = same.first()
    if existing:
        return existing
    done = TaskDone(door=door, **vars(work))
    sign(done, corrects=None, reason="", by=entered_by, at=entered_at)
    done.save()
    doors_changed([door.pk])
    return done


@transaction.atomic
def correct_task_done(
    *,
    task_done: TaskDone,
    work: WorkDone,
    reason: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> TaskDone:
    """Put another entry in the place of one about work done."""
    DoorUnit.objects.select_for_update().get(pk=task_done.door_id)
    _check(task_done.door, work, entered_at)
    supersede(task_done, reason=reason, entered_at=entered_at)
    corrected = TaskDone(door=task_done.door, **vars(work))
    sign(corrected, corrects=task_done, reason=reason, by=entered_by, at=entered_at)
    corrected.save()
    doors_changed([task_done.door_id])
    return corrected


def _check(door: DoorUnit, work: WorkDone, entered_at: datetime) -> None:
    if work.done_at > entered_at + FUTURE_ALLOWED:
        raise TaskDoneRefusedError(
            _("Work done is not dated more than a day ahead: %(moment)s is in the future.")
            % {"moment": in_words(work.done_at)},
            field="done_at",
        )
    if work.at_cycles is not None and work.at_cycles < door.opening_cycles:
        raise TaskDoneRefusedError(
            _("Cycles are lifetime cycles, at least the %(opening)d of the record's beginning.")
            % {"opening": door.opening_cycles},
            field="at_cycles",
        )
