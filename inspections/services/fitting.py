"""A fitted part is changed: one life ends, the next begins."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from fleetdoors.models import DoorModel, DoorUnit, Fitment, Part
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.services.lifetime_cycles import lifetime_cycles_at


class FittingRefusedError(ValueError):
    """The part cannot take that place; nothing was changed."""


@transaction.atomic
def change_part(
    *,
    door: DoorUnit,
    part: Part,
    position: str,
    removal: str,
    changed_at: datetime,
    at_cycles: int | None,
    entered_at: datetime,
) -> Fitment:
    """End the life of the part at the position and begin the new one's, at the same cycles.

    Cycles not given are estimated from the door's readings. The caller reports the door changed.
    """
    if part.component is None:
        raise FittingRefusedError(
            _("Only a part of a component has a position: %(part)s has none.") % {"part": part}
        )
    old = _fitted_at(door, part, position)
    cycles = at_cycles
    if cycles is None:
        cycles = lifetime_cycles_at(door=door, moment=changed_at)
    if cycles is None:
        raise FittingRefusedError(
            _("A change of part needs lifetime cycles: door %(door)s has no reading, so type them.")
            % {"door": door}
        )
    changed_on = changed_at.astimezone(zone_of(present_depot(door))).date()
    if old:
        _check_order(old, cycles)
        old.removed_on, old.removed_at_cycles = changed_on, cycles
        old.removal, old.end_entered_at = removal, entered_at
        old.save()
    return Fitment.objects.create(
        door=door,
        component=part.component,
        position=old.position if old else position,
        part=part,
        fitted_on=changed_on,
        fitted_at_cycles=cycles,
        entered_at=entered_at,
    )


def _fitted_at(door: DoorUnit, part: Part, position: str) -> Fitment | None:
    """What is fitted there; without a position, what there is only one of."""
    fitted = door.fitments.in_place().filter(component=part.component).order_by("position")
    if position:
        return fitted.filter(position=position).first()
    found = list(fitted)
    if len(found) > 1:
        raise FittingRefusedError(
            _("This door has %(component)s at several positions, say which: %(positions)s.")
            % {
                "component": part.component,
                "positions": ", ".join(fitment.position or "–" for fitment in found),
            }
        )
    return found[0] if found else None


def parts_for(door_model: DoorModel) -> QuerySet[Part]:
    """Parts that fit the door model, by component and number."""
    fitting = Part.objects.filter(Q(fits__isnull=True) | Q(fits=door_model)).distinct()
    return fitting.select_related("component").order_by("component__name", "part_number")


def _check_order(old: Fitment, cycles: int) -> None:
    """A part comes off at no fewer cycles than it went on."""
    began = old.fitted_at_cycles
    if began is not None and cycles < began:
        raise FittingRefusedError(
            _("A part comes off after it went on: %(part)s went on at %(began)d, not %(cycles)d.")
            % {"part": old.part or old.component, "began": began, "cycles": cycles}
        )
