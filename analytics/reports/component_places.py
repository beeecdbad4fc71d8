"""Whether a component fails more at one place of the door than at another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.by_place import PlaceSum
from analytics.assessment.reliability import CONFIDENCE
from analytics.kernel.mcbf import McbfEstimates, estimate_mcbf
from analytics.reports.component_evidence import ComponentEvidence
from analytics.reports.reliability_words import finding, note, value, words
from fleetdoors.interval_bar import IntervalBar, IntervalScale, common_scale, draw_interval
from fleetdoors.templatetags.units import cycles, number


@dataclass(frozen=True)
class PlaceLine:
    """One place of the door."""

    label: str
    note: str
    value: str
    words: str
    bar: IntervalBar


@dataclass(frozen=True)
class PlacesShown:
    """Places on one scale, and what is said of all of them together."""

    finding: str
    together: str
    lines: list[PlaceLine]
    scale: IntervalScale


def places_shown(found: ComponentEvidence) -> PlacesShown | None:
    """Cycles between failures of each place; None where there is one place, or no cycles."""
    sums = [PlaceSum(**each) for each in found.figures.get("places", ())]
    if len(sums) < 2 or not any(each.cycles > 0 for each in sums):
        return None
    estimates = estimate_mcbf(
        [each.cycles for each in sums], [each.failures for each in sums], CONFIDENCE
    )
    ends = np.concatenate((estimates.upper_cycles, 1.25 * estimates.lower_cycles))
    scale = common_scale(ends[np.isfinite(ends)].tolist())
    labels = [capfirst(each.place) for each in sums]
    order = np.argsort(-estimates.failures, kind="stable").tolist()
    return PlacesShown(
        finding=finding(labels, estimates, order),
        together=_together(sums),
        lines=[_line(sums[k], estimates, k, scale) for k in order],
        scale=scale,
    )


def _line(each: PlaceSum, estimates: McbfEstimates, k: int, scale: IntervalScale) -> PlaceLine:
    middle, upper = (
        None if np.isnan(ends[k]) else float(ends[k])
        for ends in (estimates.mcbf_cycles, estimates.upper_cycles)
    )
    return PlaceLine(
        label=capfirst(each.place),
        note=note(estimates, k, each.doors),
        value=value(estimates, k),
        words=words(estimates, k),
        bar=draw_interval(
            lower=float(np.nan_to_num(estimates.lower_cycles[k])),
            scale=scale,
            estimate=middle,
            upper=upper,
        ),
    )


def _together(sums: list[PlaceSum]) -> str:
    """The figure of one place on average, told apart from that of the door."""
    failures, ran = sum(each.failures for each in sums), sum(each.cycles for each in sums)
    places = ngettext("%(n)s place", "%(n)s places", len(sums)) % {"n": number(len(sums))}
    if not failures:
        return _("A door has it at up to %(places)s. No part was taken off as failed at any.") % {
            "places": places
        }
    return _(
        "A door has it at up to %(places)s. One of them fails once in %(place)s on average; where "
        "cycles are counted once for each door, a failure at any of them counts, and the figure "
        "is that much lower."
    ) % {"places": places, "place": cycles(ran / failures)}
