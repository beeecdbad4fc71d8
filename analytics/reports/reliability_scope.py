"""The figures that a reliability page speaks of: kept for very many doors, else worked out now."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analytics.assessment.groups import COMPONENT
from analytics.assessment.reliability import ReliabilityFigures, reliability_of
from analytics.assessment.reliability_json import figures_from_json
from analytics.datasets.reliability import fetch_reliability_rows
from analytics.models import ReliabilitySums
from fleetdoors.models import Component


@dataclass(frozen=True)
class Scope:
    """Figures of the doors in sight, the components by id, and the one asked for.

    `doors_changed`: doors with newer figures than these, where they were worked out before.
    """

    figures: ReliabilityFigures
    components: dict[int, Component]
    component: Component | None
    doors_changed: int = 0

    def component_name(self, component_id: int) -> str:
        """In people's words."""
        known = self.components.get(component_id)
        return str(known) if known else _("component not noted")


def fetch_scope(depot_ids: tuple[int, ...] | None, component: Component | None, by: str) -> Scope:
    """The figures of the depots in sight by one grouping; runs two queries, or five."""
    component_id = component.pk if component else None
    known = {each.pk: each for each in Component.objects.order_by("name")}
    kept = ReliabilitySums.objects.current().of(depot_ids, component_id).first()
    if kept is not None:
        return Scope(figures_from_json(kept.figures), known, component, kept.doors_changed)
    rows = fetch_reliability_rows(depot_ids)
    return Scope(reliability_of(rows, component_id, {COMPONENT, by}), known, component)
