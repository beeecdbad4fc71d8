"""The filter bar of the parts."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.forms.choices import ChoiceOfDepot, FilterForm
from analytics.reports.part_list import PartChoice
from fleetdoors.models import Depot


class PartFilterForm(FilterForm):
    """Depot, words of the part, and whether only what should be ordered is listed."""

    depot = ChoiceOfDepot()
    search = forms.CharField(
        label=_("Part"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    to_order = forms.BooleanField(label=_("Only what to order"), required=False)

    def choice(self) -> PartChoice:
        """What to list."""
        asked = self.chosen()
        depot = self.depots.get(asked.get("depot", ""))
        return PartChoice(
            depot_id=depot.pk if depot else None,
            words=asked.get("search", ""),
            only_to_order=asked.get("to_order", False),
        )


class PartDepotForm(FilterForm):
    """The depot at which a part is looked at."""

    depot = ChoiceOfDepot()

    def depot_asked(self) -> Depot | None:
        """The depot chosen, None for whichever runs out first."""
        return self.depots.get(self.chosen().get("depot", ""))
