"""The form by which a depot's visits are opened to a calendar."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot


class VisitFeedForm(forms.Form):
    """Which depot, and for whom."""

    depot = forms.ModelChoiceField(Depot.objects.none(), label=_("Depot"))
    label = forms.CharField(
        label=_("For whom"), max_length=80, help_text=_("So that you know which one to close.")
    )

    def __init__(self, data: Any = None, *, depots: QuerySet[Depot]) -> None:
        super().__init__(data)
        self.fields["depot"].queryset = depots  # type: ignore[attr-defined]
