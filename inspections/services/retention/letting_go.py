"""Deletes the records of a door whose time has come, whole, and keeps that it was done."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from fleetdoors.retention import RuleSet
from inspections.models import Attachment, LettingGo, PartReservation
from inspections.services.recomputation import doors_changed
from inspections.services.retention.departed import Departed, departed_doors, has_left
from inspections.services.retention.what_goes import GOES


class KeptError(Exception):
    """Records that may not go yet; its text says why, and until when."""


@transaction.atomic
def let_go(*, door: DoorUnit, rule_set: RuleSet, at: datetime, by: User | None) -> LettingGo:
    """Delete a door's records, and the files with them once that stands.

    Stock, invoices, parts used, where the door was and its label stay. Raises KeptError for a door
    in the fleet, before the day, and while pieces are set aside for one of its visits.
    """
    # Whoever writes of the door raises its revision: what is entered meanwhile waits, and stays.
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    found = {each.door.pk: each for each in departed_doors(rule_set, door)}.get(door.pk)
    if found is None:
        raise KeptError(_why_nothing(door))
    _refuse_early(found, at)
    if PartReservation.objects.filter(visit__door=door, ended_at__isnull=True).exists():
        raise KeptError(_("Parts are still set aside for a visit of door %(door)s: give them free "
                          "first.") % {"door": door.serial})  # fmt: skip
    [attached] = [each for each in GOES if each.model is Attachment]
    files = attached.rows_of([door.pk]).values_list("file", flat=True)
    names = sorted(set(files))
    counts = {}
    for goes in GOES:
        rows = goes.rows_of([door.pk])
        # Not one by one: rows point to each other, and every pointer is checked at the end.
        gone = rows._raw_delete(rows.db)
        if gone:
            counts[goes.model._meta.db_table] = gone
    connection.check_constraints()
    doors_changed([door.pk])
    transaction.on_commit(partial(_delete_files, names))
    assert found.may_go_on is not None
    return LettingGo.objects.create(
        door=door,
        rule_set=rule_set,
        left_on=found.left_on,
        kept_until_on=found.may_go_on,
        gone_on=at.astimezone(found.zone).date(),
        gone_at=at,
        gone_by=by,
        rows=counts,
    )


def _why_nothing(door: DoorUnit) -> str:
    if has_left(door):
        return _("Of door %(door)s nothing is on record that could go.") % {"door": door.serial}
    return _(
        "Door %(door)s is in the fleet: its records are kept as long as it is, and longer."
    ) % {"door": door.serial}


def _refuse_early(found: Departed, at: datetime) -> None:
    door, longest = found.door.serial, found.governed_by
    kind = longest.label if longest else ""
    if found.may_go_on is None:
        raise KeptError(
            _("Door %(door)s: %(kind)s is a record of a truck that is still in the fleet.")
            % {"door": door, "kind": kind}
        )
    if not found.may_go(at):
        raise KeptError(
            _("Door %(door)s: kept until %(day)s, because of %(kind)s.")
            % {"door": door, "day": found.may_go_on.isoformat(), "kind": kind}
        )


def _delete_files(names: list[str]) -> None:
    """Delete the files that no other row names: equal photos are one file."""
    still = set(Attachment.objects.filter(file__in=names).values_list("file", flat=True))
    for name in names:
        if name not in still:
            default_storage.delete(name)
