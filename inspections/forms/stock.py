"""The form for a stock count."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part
from inspections.forms.fields import DayField, MomentField
from inspections.services.stock import Counted

MOST = 1_000_000


class StockCountForm(forms.Form):
    """How much of one part lies on the shelf and is on order."""

    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Part"),
        empty_label=_("choose a part"),
    )
    on_hand = forms.IntegerField(label=_("Counted, pieces"), min_value=0, max_value=MOST)
    on_order = forms.IntegerField(
        label=_("On order, pieces"), min_value=0, max_value=MOST, initial=0, required=False
    )
    expected_on = DayField(label=_("Order expected on"), required=False)
    service_level = forms.FloatField(
        label=_("Service level wanted, %"),
        min_value=50,
        max_value=99.99,
        required=False,
        help_text=_(
            "Chance of no shortage between order and delivery. Leave empty to keep the one before."
        ),
    )
    counted_at = MomentField(label=_("Counted at"))

    def counted(self) -> Counted:
        """The count as the service takes it."""
        level = self.cleaned_data["service_level"]
        return Counted(
            on_hand=self.cleaned_data["on_hand"],
            on_order=self.cleaned_data["on_order"] or 0,
            expected_on=self.cleaned_data["expected_on"],
            service_level=None if level is None else round(level / 100, 6),
        )
