"""Parts fitted on a door: how old each is, and how long such parts last."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.db.models import F, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import ComponentLife, DoorFigures, Evidence
from analytics.reports.basis import Basis
from analytics.reports.followed_door import FollowedDoor
from fleetdoors.models import DoorUnit, Fitment
from fleetdoors.templatetags.units import cycles, number


@dataclass(frozen=True)
class FittedPart:
    """A part in place: its age in cycles, and the life of its kind in words."""

    fitment: Fitment
    age_cycles: float | None
    age_words: str
    life_words: str


def fitted_parts(
    door: DoorUnit, followed: FollowedDoor, figures: DoorFigures | None, basis: Basis
) -> list[FittedPart]:
    """The parts in place, by component and position; queries twice."""
    rows = door.fitments.in_place().select_related("component", "part")
    ordered = rows.order_by("component__name", "position", "pk")
    lives = {
        life.component_id: life
        for life in ComponentLife.objects.filter(generation=basis.run).order_by()
    }
    now = figures.cycles_now if figures else None
    if now is None and not followed.is_empty:
        now = float(followed.exposure.end_cycles[0])
    return [_part(row, now, lives.get(row.component_id)) for row in ordered]


def parts_that_came_off(door: DoorUnit) -> QuerySet[Fitment]:
    """Parts that are on the door no more, the latest first; queries once."""
    rows = door.fitments.in_force().exclude(removal="").select_related("component", "part")
    return rows.order_by(F("removed_on").desc(nulls_last=True), "-removed_at_cycles", "-pk")


def _part(row: Fitment, cycles_now: float | None, life: ComponentLife | None) -> FittedPart:
    age = None
    if cycles_now is not None and row.fitted_at_cycles is not None:
        age = max(cycles_now - row.fitted_at_cycles, 0.0)
    words = cycles(age) if age is not None else _("age not known")
    return FittedPart(row, age, words, life_words(life))


def life_words(life: ComponentLife | None) -> str:
    """Until when half of such parts have failed, and what that rests on."""
    if life is None:
        return ""
    counted = ngettext("%(n)s failure", "%(n)s failures", life.failures) % {
        "n": number(life.failures)
    }
    if life.shape_median is None or life.scale_median is None:
        return _("life not known yet: %(counted)s on record") % {"counted": counted}
    half = life.scale_median * math.log(2) ** (1 / life.shape_median)
    source = counted
    if life.evidence == Evidence.MOSTLY_PRIOR:
        source = _("%(counted)s; mostly from what is usual for such parts") % {"counted": counted}
    return _("half fail by about %(half)s (%(source)s)") % {
        "half": cycles(round(half, -2)),
        "source": source,
    }
