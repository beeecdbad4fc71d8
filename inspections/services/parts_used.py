"""What was written about a part used is corrected or ended; the shelf follows."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Part
from fleetdoors.services.recomputation import doors_changed
from inspections.models import PartUsed
from inspections.services.corrections import CorrectionRefusedError, sign, supersede
from inspections.services.findings import Correction
from inspections.services.fuse_check import fuse_objection
from inspections.services.ledger_record import book_use, book_use_taken_back


@transaction.atomic
def correct_part_used(
    *, used: PartUsed, part: Part, quantity: int, correction: Correction
) -> PartUsed:
    """Put another part or quantity in the place of one; the fitted part stays as recorded."""
    DoorUnit.objects.select_for_update().get(pk=used.door_id)
    if quantity < 1:
        raise CorrectionRefusedError(
            _("A quantity is 1 or more: %(quantity)d was entered. Take it back instead.")
            % {"quantity": quantity}
        )
    objection = fuse_objection(part=part, door=used.door)
    if objection:
        raise CorrectionRefusedError(objection)
    _end(used, correction)
    corrected = PartUsed(
        door=used.door,
        used_at=used.used_at,
        part=part,
        quantity=quantity,
        depot=used.depot,
        draws_on_stock=used.draws_on_stock,
    )
    sign(
        corrected,
        corrects=used,
        reason=correction.reason,
        by=correction.entered_by,
        at=correction.entered_at,
    )
    corrected.save()
    book_use(corrected)
    doors_changed([used.door_id])
    return corrected


def put_back_on_shelf(used: PartUsed, correction: Correction) -> None:
    """End a use that was none, and put its pieces back.

    Call it inside the transaction that holds the door; the caller reports the door changed.
    """
    _end(used, correction)
    used.taken_back_because = correction.reason.strip()[:200]
    used.save(update_fields=("taken_back_because",))


def _end(used: PartUsed, correction: Correction) -> None:
    supersede(used, reason=correction.reason, entered_at=correction.entered_at)
    book_use_taken_back(
        used,
        reason=correction.reason,
        entered_at=correction.entered_at,
        entered_by=correction.entered_by,
    )
