"""Forms for a truck's stays: another depot, days out of use."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot


def _day(label: Any, *, required: bool = True) -> forms.DateField:
    picker = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, widget=picker)


class MoveTruckForm(forms.Form):
    """Where the truck lives from a day on."""

    depot = forms.ModelChoiceField(Depot.objects.none(), label=_("Moves to"))
    moved_on = _day(_("From"))

    def __init__(self, data: Any = None, *, depots: QuerySet[Depot], today: date) -> None:
        super().__init__(data, initial={"moved_on": today})
        self.fields["depot"].queryset = depots  # type: ignore[attr-defined]


class LayUpForm(forms.Form):
    """Days out of use."""

    from_on = _day(_("Out of use from"))
    until_on = _day(_("Until"), required=False)
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(self, data: Any = None, *, today: date) -> None:
        super().__init__(data, initial={"from_on": today})
