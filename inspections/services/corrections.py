"""What every correction obeys: a new row, a reason, and no row corrected twice."""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from django.utils.translation import gettext as _

from fleetdoors.models import User
from fleetdoors.models.record import Record
from inspections.models import CounterReading, Fault, Measurement, PartUsed, TaskDone

DoorRecord = TypeVar("DoorRecord", CounterReading, Fault, Measurement, PartUsed, TaskDone)


class CorrectionRefusedError(ValueError):
    """The row cannot be corrected as asked; nothing was changed."""


def supersede(record: Record, *, reason: str, entered_at: datetime) -> None:
    """Mark the row as corrected from this moment; the caller writes the row that corrects it."""
    if not reason.strip():
        raise CorrectionRefusedError(_("A correction says why: the reason is empty."))
    marked = (
        type(record)
        ._default_manager.filter(pk=record.pk, superseded_at__isnull=True)
        .update(superseded_at=entered_at)
    )
    if not marked:
        raise CorrectionRefusedError(
            _("This was corrected before: correct the newer entry that stands in its place.")
        )
    record.superseded_at = entered_at


def sign(
    record: Record, *, corrects: Record | None, reason: str, by: User | None, at: datetime
) -> None:
    """Write on a new row who entered it, when, and what it corrects and why."""
    record.entered_at = at
    record.entered_by = by
    record.corrects = corrects
    record.reason = reason.strip()[:200]


def history_of(record: DoorRecord) -> list[DoorRecord]:
    """The row and those it took the place of or gave way to, the newest first; queries once."""
    changed = (
        type(record)
        ._default_manager.filter(door_id=record.door_id)
        .exclude(superseded_at__isnull=True, corrects__isnull=True)
        .select_related("entered_by")
    )
    rows = {row.pk: row for row in changed}
    rows.setdefault(record.pk, record)
    follower = {row.corrects_id: row.pk for row in rows.values() if row.corrects_id}
    newest = record.pk
    while newest in follower:
        newest = follower[newest]
    chain: list[DoorRecord] = []
    at: int | None = newest
    while at:
        chain.append(rows[at])
        at = rows[at].corrects_id
    return chain
