"""Follow-ups: a finding asks for a task, and the task done answers it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, MaintenanceTask, User
from fleetdoors.services.recomputation import doors_changed
from inspections.models import FollowUp, Measurement, TaskDone


class FollowUpRefusedError(ValueError):
    """The follow-up cannot end as asked; nothing was changed."""


@transaction.atomic
def open_follow_up(
    *,
    door: DoorUnit,
    task: MaintenanceTask,
    because: str,
    opened_at: datetime,
    entered_at: datetime,
    measurement: Measurement | None = None,
    entered_by: User | None = None,
) -> FollowUp:
    """Ask for a task; one that is asked for already stays as it was first asked."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    existing = FollowUp.objects.open().filter(door=door, task=task).first()
    if existing:
        return existing
    follow_up = FollowUp.objects.create(
        door=door,
        task=task,
        because=because[:300],
        measurement=measurement,
        opened_at=opened_at,
        entered_at=entered_at,
        entered_by=entered_by,
    )
    doors_changed([door.pk])
    return follow_up


@transaction.atomic
def answer_follow_up(*, follow_up: FollowUp, done: TaskDone, entered_at: datetime) -> FollowUp:
    """End a follow-up by the task done; answered twice, it is answered once."""
    DoorUnit.objects.select_for_update().get(pk=follow_up.door_id)
    follow_up = FollowUp.objects.get(pk=follow_up.pk)
    if follow_up.closed_at:
        return follow_up
    follow_up.closed_at = max(done.done_at, follow_up.opened_at)
    follow_up.task_done, follow_up.end_entered_at = done, entered_at
    follow_up.save()
    doors_changed([follow_up.door_id])
    return follow_up


@transaction.atomic
def drop_follow_up(
    *, follow_up: FollowUp, reason: str, dropped_at: datetime, entered_at: datetime
) -> FollowUp:
    """End a follow-up that turned out to be needless; dropped twice, it is dropped once."""
    DoorUnit.objects.select_for_update().get(pk=follow_up.door_id)
    follow_up = FollowUp.objects.get(pk=follow_up.pk)
    if follow_up.closed_at:
        return follow_up
    if not reason.strip():
        raise FollowUpRefusedError(_("A follow-up is dropped with a reason: it is empty."))
    follow_up.closed_at = max(dropped_at, follow_up.opened_at)
    follow_up.closing_reason, follow_up.end_entered_at = reason.strip()[:200], entered_at
    follow_up.save()
    doors_changed([follow_up.door_id])
    return follow_up
