"""Which parts fail more often than their ages say: the same alert for every page that buys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.datasets.demand_factors import fetch_demand_factors
from analytics.kernel.demand_calibration import DemandCalibration
from analytics.models import LifeEvidence
from analytics.reports.basis import Basis
from fleetdoors.models import Component, Part
from fleetdoors.templatetags.units import between, number

SHOWN = 5


@dataclass(frozen=True)
class FailingPart:
    """A part number that fails more often than its like, or a kind of which none stands out."""

    name: str
    url: str
    words: str
    part_id: int | None
    at_least_times: float


@dataclass(frozen=True)
class FailingParts:
    """All of them, the surest first; pages list the first few."""

    found: list[FailingPart]

    @property
    def first(self) -> list[FailingPart]:
        """Those that a page lists."""
        return self.found[:SHOWN]

    @property
    def beyond(self) -> int:
        """How many are not listed."""
        return max(len(self.found) - SHOWN, 0)

    def of_part(self, part_id: int) -> str:
        """The words about one part number, empty where it does not stand out."""
        return next((each.words for each in self.found if each.part_id == part_id), "")


def failing_parts(basis: Basis) -> FailingParts:
    """What the run that is shown found of every part, and past weeks of every kind.

    Reads what is kept, and queries up to four times whatever it finds.
    """
    if basis.run is None:
        return FailingParts([])
    named = _named_figures(basis)
    parts = Part.objects.select_related("component").in_bulk(list(named))
    found = [_part_words(part, named[key]) for key, part in parts.items()]
    alerts = {
        code: factor
        for code, factor in fetch_demand_factors(basis.run.as_of).items()
        if factor.alert
    }
    told = {part.component.code for part in parts.values() if part.component}
    kinds = Component.objects.filter(code__in=alerts.keys() - told) if alerts else ()
    found += [_kind_words(kind, alerts[kind.code]) for kind in kinds]
    return FailingParts(sorted(found, key=lambda each: (-each.at_least_times, each.name)))


def _named_figures(basis: Basis) -> dict[int, Mapping[str, Any]]:
    """What is on record of each part number that stands out, by its key; queries once."""
    kept = LifeEvidence.objects.filter(generation=basis.run).order_by("component")
    return {
        int(each["part"]): each
        for parts in kept.values_list("figures__parts", flat=True)
        for each in parts or ()
        if each.get("fails_more_often")
    }


def _part_words(part: Part, figures: Mapping[str, Any]) -> FailingPart:
    least = float(figures["times_others_lower"])
    name = f"{part.name} {part.part_number}"
    if part.revision:
        name = _("%(part)s, revision %(revision)s") % {"part": name, "revision": part.revision}
    words = _("fails %(times)s times as often as its like at the same ages (%(range)s)") % {
        "times": number(float(figures["times_others"]), 1),
        "range": between(least, float(figures["times_others_upper"]), 1),
    }
    url = reverse("part-detail", args=[part.part_number])
    return FailingPart(name, url, words, part.pk, least)


def _kind_words(kind: Component, factor: DemandCalibration) -> FailingPart:
    words = _(
        "failed %(factor)s times as often as their ages say in %(weeks)s weeks; no part number "
        "stands out"
    ) % {"factor": number(factor.factor, 2), "weeks": number(factor.weeks)}
    url = reverse("component-detail", args=[kind.code])
    return FailingPart(str(kind), url, words, None, factor.lower)
