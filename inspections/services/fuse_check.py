"""Whether a fuse may go to a door: type, current and voltage as its door model calls for."""

from __future__ import annotations

from django.utils.translation import gettext as _

from fleetdoors.fuse_marks import read_mark
from fleetdoors.models import DoorUnit, FusePosition, Part

FUSE = "fuse"


def fuse_objection(*, part: Part, door: DoorUnit, position: str = "") -> str:
    """Why the part may not be the door's fuse; nothing for other parts and for the right one.

    Without a position, or with one that the door model does not name, the fuse of any of its
    positions will do. A door model without a fuse on record calls for none. Queries once or twice.
    """
    if part.component is None or part.component.code != FUSE:
        return ""
    every = list(FusePosition.objects.filter(door_model=door.door_model_id).order_by("position"))
    named = [each for each in every if position and each.position == position]
    called = named or every
    mark = read_mark(part.rating)
    if not called or any(each.is_met_by(mark) for each in called):
        return ""
    facts = {
        "part": part,
        "marked": part.rating,
        "door": door.serial,
        "called": _(" or ").join(_told(each) for each in called),
    }
    if not mark.is_full:
        return (
            _(
                "What is marked on %(part)s is not fully on record, and door %(door)s calls for "
                "%(called)s. Enter type, current and voltage in the catalogue first."
            )
            % facts
        )
    return (
        _(
            "%(part)s is marked %(marked)s, and door %(door)s calls for %(called)s. Type, current "
            "and voltage must all be the same. Find the cause before you fit a second fuse."
        )
        % facts
    )


def _told(called: FusePosition) -> str:
    if not called.position:
        return str(called.words)
    return _("%(words)s (%(position)s)") % {"words": called.words, "position": called.position}
