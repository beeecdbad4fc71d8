"""Which parts deserve most care: by yearly spend, and by what stops a truck."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from analytics.models import PartOutlook
from fleetdoors.models import Part

# The usual cut of a stock list: four fifths of the money, the next 15 %, the rest.
SHARE_A, SHARE_B = 0.80, 0.95
DAYS_A_YEAR = 365.25
# Common practice, no source: without one of these a truck stays where it is.
STOPS_THE_TRUCK = frozenset(
    {"fuse", "converter", "control_board", "coil_cable", "motor", "spring", "lift_cable"}
)
# Common practice, no source: a truck can be spared for a day.
TOLERABLE_DAYS = 1.0


@dataclass(frozen=True)
class PartClass:
    """A part's letter by yearly spend (empty = cost unknown), and whether it is critical."""

    letter: str
    is_critical: bool
    never_out: bool

    def words(self) -> str:
        """The class in a few words, empty where there is nothing to say."""
        said = [self.letter] if self.letter else []
        if self.is_critical:
            said.append(_("critical"))
        elif self.never_out:
            said.append(_("never to be out"))
        return ", ".join(said)


def classes_of(rows: Iterable[PartOutlook]) -> dict[int, PartClass]:
    """The class of each part by its key, from its outlooks at every depot."""
    spend: dict[int, float] = {}
    parts: dict[int, Part] = {}
    for row in rows:
        parts[row.part_id] = row.part
        cost = row.part.unit_cost
        if cost is not None:
            yearly = row.mean * DAYS_A_YEAR / row.horizon_days * float(cost)
            spend[row.part_id] = spend.get(row.part_id, 0.0) + yearly
    letters = _letters(spend)
    return {
        key: PartClass(
            letters.get(key, ""),
            is_critical=_stops(part) and (part.lead_time_days or 0.0) > TOLERABLE_DAYS,
            never_out=_stops(part),
        )
        for key, part in parts.items()
    }


def _stops(part: Part) -> bool:
    return part.component is not None and part.component.code in STOPS_THE_TRUCK


def _letters(spend: dict[int, float]) -> dict[int, str]:
    """A for the dearest parts up to four fifths of the money, then B, then C."""
    keys = sorted(spend, key=lambda key: (-spend[key], key))
    money = np.array([spend[key] for key in keys])
    total = money.sum()
    if not total:
        return dict.fromkeys(keys, "C")
    before = (np.cumsum(money) - money) / total
    return {
        key: "A" if share < SHARE_A else "B" if share < SHARE_B else "C"
        for key, share in zip(keys, before.tolist(), strict=True)
    }
