"""Whether the power law behind the slope holds, line by line."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.power_law import LARGEST_DISTANCE, LoneDoor, PowerLawFit
from analytics.reports.evidence import Evidence
from fleetdoors.templatetags.units import between, cycles, number, per_cent

# Below this chance so large a difference is taken for more than chance.
UNLIKELY = 0.05


def power_law_evidence(fit: PowerLawFit) -> list[Evidence]:
    """A line for each check that could be made."""
    lines = []
    if fit.distance is not None:
        lines.append(_distance(fit, fit.distance))
    if fit.slopes_p is not None:
        lines.append(_slopes(fit, fit.slopes_p))
    return [*lines, *(_lone(fit.alone) if fit.alone else ())]


def _lone(door: LoneDoor) -> list[Evidence]:
    gaps = Evidence(
        _("Gaps longer than one before"),
        number(door.reversals),
        _("of %(pairs)s pairs; half without a trend, more when failures grow rare")
        % {"pairs": number(door.pairs)},
    )
    if door.now_cycles is None:
        return [gaps]
    now = Evidence(
        _("Cycles between failures now"),
        cycles(door.now_cycles),
        _("%(range)s, 8 times in 10, if the power law goes on")
        % {"range": between(door.now_lower, door.now_upper)},
    )
    return [gaps, now]


def _distance(fit: PowerLawFit, distance: float) -> Evidence:
    words = (
        _("a power law is not what these failures follow: read the slope as a mean only")
        if distance > LARGEST_DISTANCE
        else _("nothing speaks against a power law")
    )
    doors = ngettext("%(n)s door", "%(n)s doors", fit.doors) % {"n": number(fit.doors)}
    return Evidence(
        _("Distance from the power law"),
        number(distance, 3),
        _("%(words)s; above %(limit)s once in 20 by chance; on %(doors)s seen from new")
        % {"words": words, "limit": number(LARGEST_DISTANCE, 2), "doors": doors},
    )


def _slopes(fit: PowerLawFit, p: float) -> Evidence:
    words = (
        _("doors differ: some grow worse faster than others")
        if p < UNLIKELY
        else _("doors do not differ by more than chance")
    )
    return Evidence(
        _("One slope for all doors"),
        _("p %(p)s") % {"p": per_cent(p, 1)},
        _("%(words)s; over %(doors)s doors with three failures or more")
        % {"words": words, "doors": number(fit.slopes)},
    )
