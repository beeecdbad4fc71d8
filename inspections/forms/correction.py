"""Forms that correct what was entered on a visit: a measurement, a part used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.measures import scale_of
from fleetdoors.models import Part
from fleetdoors.templatetags.units import as_typed
from fleetdoors.units_in_use import system_in_use
from inspections.forms.fields import typed_system, units_field
from inspections.models import Measurement
from inspections.quantities import QUANTITIES


class MeasurementForm(forms.Form):
    """What should have been written for a measurement, and why."""

    value = forms.FloatField(
        label=_("Value"),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    reason = forms.CharField(label=_("Why"), max_length=200)
    # Set once the page has asked about an unusual value and the person has looked again.
    is_confirmed = forms.BooleanField(required=False, widget=forms.HiddenInput)
    units = units_field()

    def __init__(self, data: Mapping[str, Any] | None, *, measurement: Measurement) -> None:
        quantity = QUANTITIES[measurement.quantity]
        self.system = typed_system(data)
        self.scale = scale_of(quantity.unit, self.system)
        value = as_typed(measurement.value, quantity.unit)
        super().__init__(data, initial={"value": value, "units": system_in_use()})
        unit = self.scale.unit
        label = f"{quantity.name}, {unit}" if unit else str(quantity.name)
        if quantity.grades:
            choices = [(f"{value:g}", word) for value, word in quantity.grades]
            self.fields["value"] = forms.TypedChoiceField(
                choices=choices, coerce=float, widget=forms.RadioSelect
            )
            self.order_fields(("value", "reason", "is_confirmed"))
        self.fields["value"].label = label

    def clean_value(self) -> float:
        """The value as it goes on record, whatever the units it was typed in."""
        return self.scale.kept(self.cleaned_data["value"])


class PartUsedForm(forms.Form):
    """What should have been written about a part used, and why."""

    part = forms.ModelChoiceField(Part.objects.none(), label=_("Part"), empty_label=None)
    quantity = forms.IntegerField(
        label=_("Quantity"),
        min_value=0,
        max_value=1000,
        help_text=_("0 takes it back: it was not used."),
    )
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        parts: Iterable[Part],
        initial: Mapping[str, Any],
    ) -> None:
        super().__init__(data, initial=dict(initial))
        cast("forms.ModelChoiceField", self.fields["part"]).queryset = parts  # type: ignore[assignment]
