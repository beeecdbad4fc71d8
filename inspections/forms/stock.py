"""The form for a count of stock: what was counted, before anyone sees what the record says."""

from __future__ import annotations

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part
from inspections.forms.fields import DayField, MomentField
from inspections.models import StockPlace
from inspections.services.stock import Counted

MOST = 1_000_000


class StockCountForm(forms.Form):
    """How much of one part lies at a place; the rest is kept as it was where left empty."""

    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Part"),
        empty_label=_("choose a part"),
    )
    place = forms.ModelChoiceField(
        StockPlace.objects.none(), label=_("Where"), required=False, empty_label=_("the shelf")
    )
    on_hand = forms.IntegerField(label=_("Counted, pieces"), min_value=0, max_value=MOST)
    counted_at = MomentField(label=_("Counted at"))
    on_order = forms.IntegerField(
        label=_("Ordered elsewhere, pieces"),
        min_value=0,
        max_value=MOST,
        required=False,
        help_text=_(
            "What is on its way without an order in this program. Leave empty to keep what was "
            "noted before."
        ),
    )
    expected_on = DayField(label=_("Expected on"), required=False)
    service_level = forms.FloatField(
        label=_("Service level wanted, %"),
        min_value=50,
        max_value=99.99,
        required=False,
        help_text=_(
            "Chance of no shortage between order and delivery. Leave empty to keep the one before."
        ),
    )
    difference_reason = forms.CharField(
        label=_("Why it differs from the record"),
        max_length=200,
        required=False,
        widget=forms.HiddenInput,
    )

    def __init__(self, *args: object, places: QuerySet[StockPlace], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["place"].queryset = places  # type: ignore[attr-defined]

    def ask_why(self) -> None:
        """Show the field for the reason: the count differs from the record."""
        field = self.fields["difference_reason"]
        field.widget = forms.TextInput()
        field.required = True

    def counted(self) -> Counted:
        """The count as the service takes it."""
        level = self.cleaned_data["service_level"]
        return Counted(
            on_hand=self.cleaned_data["on_hand"],
            on_order=self.cleaned_data["on_order"],
            expected_on=self.cleaned_data["expected_on"],
            service_level=None if level is None else round(level / 100, 6),
            difference_reason=self.cleaned_data["difference_reason"],
        )
