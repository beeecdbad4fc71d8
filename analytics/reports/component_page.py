"""How long a component lasts: everything that its page shows."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from analytics.datasets.positions import fetch_fitted_parts
from analytics.reports.basis import Basis
from analytics.reports.component_advice import AdviceShown, Costs, advice_shown
from analytics.reports.component_checks import (
    ChecksShown,
    checks_shown,
    fetch_check_evidence,
)
from analytics.reports.component_evidence import fetch_evidence
from analytics.reports.component_forecast import ForecastShown, forecast_shown
from analytics.reports.component_life import LifeShown, life_shown
from analytics.reports.component_places import PlacesShown, places_shown
from analytics.reports.part_lives import PartsCompared, parts_compared
from analytics.reports.reliability_page import computed_words
from fleetdoors.models import Component, Part


@dataclass(frozen=True)
class PartLink:
    """A part of the component, with its own page."""

    label: str
    url: str


@dataclass(frozen=True)
class ComponentPage:
    """The page's answer, section by section; `empty` says what is missing, if anything."""

    computed: str
    empty: str
    life: LifeShown | None
    compared: PartsCompared | None
    places: PlacesShown | None
    advice: AdviceShown | None
    checks: ChecksShown | None
    forecast: ForecastShown | None
    parts: list[PartLink]


def component_page(
    component: Component, depot_ids: tuple[int, ...] | None, costs: Costs, basis: Basis
) -> ComponentPage:
    """Life and advice of the whole fleet, the forecast for the depots in sight; queries 7 times."""
    parts = list(Part.objects.filter(component=component).order_by("part_number"))
    links = [PartLink(str(part), reverse("part-detail", args=[part.part_number])) for part in parts]
    found, checks = fetch_evidence(component), fetch_check_evidence(component)
    if found is None:
        return ComponentPage(
            computed=computed_words(basis),
            empty=_empty(basis),
            life=None,
            compared=None,
            places=None,
            advice=None,
            checks=checks_shown(component, checks) if checks else None,
            forecast=None,
            parts=links,
        )
    return ComponentPage(
        computed=computed_words(basis),
        empty="",
        life=life_shown(found),
        compared=parts_compared(found, parts),
        places=places_shown(found),
        advice=advice_shown(found, costs),
        checks=checks_shown(component, checks),
        forecast=forecast_shown(found, fetch_fitted_parts(component, depot_ids)),
        parts=links,
    )


def _empty(basis: Basis) -> str:
    if basis.run is None:
        return _("No figures have been computed yet.")
    return _(
        "No part of this kind is on record as fitted. Lives come from fitted parts: bring in the "
        "table of fitments, or record the parts you fit."
    )
