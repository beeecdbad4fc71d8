"""The filter bar of the list of doors."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.forms.choices import ChoiceOfDepot, FilterForm, Words
from analytics.reports.doors_page import HELD, STALE, UNREAD, DoorChoice
from fleetdoors.models import DoorModel, User

DOUBTS = (
    ("", _("Any")),
    (HELD, _("with readings to settle")),
    (STALE, _("last read over 120 days ago")),
    (UNREAD, _("never read")),
)
RETIRED = "all"
SERVICE = (("", _("In service")), (RETIRED, _("Retired ones too")))


class DoorFilterForm(FilterForm):
    """Depot, door model, truck or door, and whether the readings are in doubt."""

    depot = ChoiceOfDepot()
    model = forms.ChoiceField(label=_("Door model"), required=False)
    readings = forms.ChoiceField(label=_("Readings"), required=False, choices=DOUBTS)
    service = forms.ChoiceField(label=_("Doors"), required=False, choices=SERVICE)
    search = Words()

    def __init__(self, data: Any, *, user: User) -> None:
        super().__init__(data, user=user)
        self.models = {model.code: model for model in DoorModel.objects.order_by("code")}
        field = self.fields["model"]
        assert isinstance(field, forms.ChoiceField)  # declared above
        field.choices = [("", _("Every model")), *((code, code) for code in self.models)]

    def choice(self) -> DoorChoice:
        """What to list."""
        asked = self.chosen()
        depot = self.depots.get(asked.get("depot", ""))
        model = self.models.get(asked.get("model", ""))
        return DoorChoice(
            depot_id=depot.pk if depot else None,
            model_id=model.pk if model else None,
            words=asked.get("search", ""),
            doubt=asked.get("readings", ""),
            with_retired=asked.get("service") == RETIRED,
        )
