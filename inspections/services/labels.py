"""Labels are issued: a door gets its code once, and keeps it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import count

from django.db import transaction

from fleetdoors.models import DoorUnit
from inspections.door_code import code_for
from inspections.models import DoorLabel


@transaction.atomic
def issue_label(*, door: DoorUnit, issued_at: datetime) -> DoorLabel:
    """The door's label; a door that has one keeps it, whatever became of its serial."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    existing = DoorLabel.objects.filter(door=door).first()
    if existing:
        return existing
    for attempt in count():
        code = code_for(door.serial, attempt)
        if not DoorLabel.objects.filter(code=code).exists():
            break
    return DoorLabel.objects.create(door=door, code=code, issued_at=issued_at)


@transaction.atomic
def issue_labels(*, doors: Iterable[DoorUnit], issued_at: datetime) -> int:
    """Labels for those of the doors that have none; returns how many were issued."""
    without = [door for door in doors if not DoorLabel.objects.filter(door=door).exists()]
    for door in without:
        issue_label(door=door, issued_at=issued_at)
    return len(without)
