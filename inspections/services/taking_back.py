"""A part written down as fitted, removed or used by mistake is taken back; the life before goes on.

Nothing is altered or deleted: what never was is in force no more, and a life that goes on after
all is a new row that corrects the one that had ended.
"""

from __future__ import annotations

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, Fitment
from fleetdoors.models.fitment import FitmentQuerySet
from fleetdoors.services.recomputation import doors_changed
from inspections.models import PartReturn, PartTakenBack, PartUsed
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.findings import Correction
from inspections.services.parts_used import correct_part_used, put_back_on_shelf

_ENDING = ("removed_on", "removed_at_cycles", "removal", "end_entered_at")


@transaction.atomic
def take_back_fitting(
    *, fitment: Fitment, pieces_back: int, correction: Correction
) -> PartTakenBack:
    """Say that a part was never fitted: what was there before goes on as if it had never ended.

    `pieces_back` of the use that was written with it lie on the shelf again.
    """
    fitment = _held(fitment)
    old = life_before(fitment)
    _check_claims(fitment, *([old] if old else []))
    used = use_written_with(fitment)
    _check_pieces(pieces_back, used)
    _take_out_of_force(fitment, correction)
    restored = None
    if old:
        _take_out_of_force(old, correction)
        restored = _going_on(old, until=fitment)
    taken = _keep(fitment.door, correction, fitment=fitment, restored=restored)
    if used and pieces_back:
        _pieces_back(used, pieces_back, correction, taken)
    doors_changed([fitment.door_id])
    return taken


@transaction.atomic
def take_back_removal(*, fitment: Fitment, correction: Correction) -> PartTakenBack:
    """Say that a part never came off: its life goes on."""
    fitment = _held(fitment)
    if not may_be_in_place_still(fitment):
        raise CorrectionRefusedError(
            _("Something was fitted in its place: take that fitting back, and this part goes on.")
        )
    _check_claims(fitment)
    _take_out_of_force(fitment, correction)
    restored = _going_on(fitment, until=None)
    taken = _keep(fitment.door, correction, fitment=fitment, restored=restored)
    doors_changed([fitment.door_id])
    return taken


@transaction.atomic
def take_back_use(*, used: PartUsed, correction: Correction) -> PartTakenBack:
    """Say that a part was not used after all: it stays on record and lies on the shelf again."""
    DoorUnit.objects.select_for_update().get(pk=used.door_id)
    put_back_on_shelf(used, correction)
    taken = _keep(used.door, correction, used=used)
    doors_changed([used.door_id])
    return taken


def life_before(fitment: Fitment) -> Fitment | None:
    """The part whose life ended when this one began, at the same place; queries."""
    ended = _others_there(fitment).exclude(removal="")
    if fitment.fitted_at_cycles is not None:
        ended = ended.filter(removed_at_cycles=fitment.fitted_at_cycles)
    elif fitment.fitted_on is not None:
        ended = ended.filter(removed_on=fitment.fitted_on)
    else:
        return None
    # Several may have ended there, each after no cycles: the last one made room for this one.
    made_room = Q(end_entered_at__isnull=True) | Q(end_entered_at__lte=fitment.entered_at)
    return ended.filter(made_room).order_by("-end_entered_at", "-pk").first()


def use_written_with(fitment: Fitment) -> PartUsed | None:
    """The use that was entered together with the fitting, as it stands now; queries."""
    if fitment.part_id is None:
        return None
    uses = PartUsed.objects.filter(
        door_id=fitment.door_id, part_id=fitment.part_id, entered_at=fitment.entered_at
    )
    for first in uses.order_by("pk"):
        used: PartUsed | None = first
        while used is not None and used.superseded_at is not None:
            used = PartUsed.objects.filter(corrects=used).first()
        if used is not None:
            return used
    return None


def fitting_written_with(used: PartUsed) -> Fitment | None:
    """The fitted part that was entered together with a use and still stands; queries."""
    first = used
    while first.corrects_id is not None:
        first = PartUsed.objects.get(pk=first.corrects_id)
    stays = Fitment.objects.in_force().filter(
        door_id=first.door_id, part_id=first.part_id, entered_at=first.entered_at
    )
    return stays.order_by("pk").first()


def may_be_in_place_still(fitment: Fitment) -> bool:
    """Whether a part that came off could have stayed: nothing was fitted there since; queries."""
    if not fitment.removal or fitment.superseded_at is not None:
        return False
    since = Q(removal="")
    if fitment.removed_at_cycles is not None:
        since |= Q(fitted_at_cycles__gte=fitment.removed_at_cycles)
    elif fitment.removed_on is not None:
        since |= Q(fitted_on__gte=fitment.removed_on)
    return not _others_there(fitment).filter(since).exists()


def _others_there(fitment: Fitment) -> FitmentQuerySet:
    """Other stays in force at the same place of the door."""
    there = Fitment.objects.in_force().filter(
        door_id=fitment.door_id, component_id=fitment.component_id, position=fitment.position
    )
    return there.exclude(pk=fitment.pk)


def _held(fitment: Fitment) -> Fitment:
    """The stay as it stands, with its door held."""
    DoorUnit.objects.select_for_update().get(pk=fitment.door_id)
    return Fitment.objects.select_related("door").get(pk=fitment.pk)


def _take_out_of_force(fitment: Fitment, correction: Correction) -> None:
    if not correction.reason.strip():
        raise CorrectionRefusedError(_("A correction says why: the reason is empty."))
    marked = Fitment.objects.in_force().filter(pk=fitment.pk)
    if not marked.update(superseded_at=correction.entered_at):
        raise CorrectionRefusedError(_("This was taken back before."))
    fitment.superseded_at = correction.entered_at


def _going_on(old: Fitment, *, until: Fitment | None) -> Fitment:
    """The life of a part that had ended, up to where the one after it ended, or open."""
    restored = Fitment(
        door_id=old.door_id,
        component_id=old.component_id,
        position=old.position,
        part_id=old.part_id,
        fitted_on=old.fitted_on,
        fitted_at_cycles=old.fitted_at_cycles,
        observed_from_cycles=old.observed_from_cycles,
        entered_at=old.entered_at,
        corrects=old,
    )
    if until is not None:
        for name in _ENDING:
            setattr(restored, name, getattr(until, name))
    restored.save()
    return restored


def _keep(
    door: DoorUnit,
    correction: Correction,
    *,
    fitment: Fitment | None = None,
    restored: Fitment | None = None,
    used: PartUsed | None = None,
) -> PartTakenBack:
    return PartTakenBack.objects.create(
        door=door,
        fitment=fitment,
        restored=restored,
        used=used,
        entered_at=correction.entered_at,
        entered_by=correction.entered_by,
        reason=correction.reason.strip()[:200],
    )


def _pieces_back(used: PartUsed, pieces: int, correction: Correction, taken: PartTakenBack) -> None:
    """Pieces of the use lie on the shelf again; the rest stays used."""
    if pieces < used.quantity:
        correct_part_used(
            used=used, part=used.part, quantity=used.quantity - pieces, correction=correction
        )
        return
    put_back_on_shelf(used, correction)
    taken.used = used
    taken.save(update_fields=("used",))


def _check_pieces(pieces: int, used: PartUsed | None) -> None:
    there = used.quantity if used else 0
    if not 0 <= pieces <= there:
        raise CorrectionRefusedError(
            _("At most the pieces that were used can lie on the shelf again: %(there)d, not %(n)d.")
            % {"there": there, "n": pieces}
        )


def _check_claims(*stays: Fitment) -> None:
    """A claim tells a supplier that a part failed: it is ended before that is taken back."""
    claim = PartReturn.objects.still_open().filter(fitment__in=stays).first()
    if claim:
        raise CorrectionRefusedError(
            _("A claim rests on this part and is open: drop the claim first (%(claim)s).")
            % {"claim": claim}
        )
