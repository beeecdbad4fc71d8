"""The filter bar of the reliability page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.assessment.groups import COMPONENT, DEPOT, DOOR_MODEL, ROUTE_KIND
from analytics.forms.choices import ChoiceOfDepot, FilterForm
from fleetdoors.models import Component, User

GROUPINGS = (
    (COMPONENT, _("component")),
    (DOOR_MODEL, _("door model")),
    (DEPOT, _("depot")),
    (ROUTE_KIND, _("route kind")),
)


class ReliabilityFilterForm(FilterForm):
    """What is compared, and whether failures of one component alone count."""

    by = forms.ChoiceField(label=_("Compare by"), required=False, choices=GROUPINGS)
    component = forms.ChoiceField(label=_("Failures of"), required=False)
    depot = ChoiceOfDepot()

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data, user=user)
        self.components = {each.code: each for each in Component.objects.order_by("name")}
        field = self.fields["component"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        named = [(code, str(each)) for code, each in self.components.items()]
        field.choices = [("", _("Every component")), *named]

    def by_what(self) -> str:
        """The grouping asked for, by component unless another one is."""
        return self.chosen().get("by") or COMPONENT

    def component_asked(self) -> Component | None:
        """The component whose failures count, None for all."""
        return self.components.get(self.chosen().get("component", ""))

    def depot_ids(self, in_sight: tuple[int, ...] | None) -> tuple[int, ...] | None:
        """The depot asked for, or those in sight."""
        depot = self.depots.get(self.chosen().get("depot", ""))
        return in_sight if depot is None else (depot.pk,)
