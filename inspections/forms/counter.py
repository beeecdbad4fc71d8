"""The form for the exchange of a counter."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.services.counter_exchange import NewCounter, OldCounter
from inspections.forms.fields import DayField

MOST = 10**9 - 1


class CounterExchangeForm(forms.Form):
    """What the old counter showed last, and what the new one is and shows."""

    exchanged_on = DayField(label=_("Exchanged on"))
    last_value = forms.IntegerField(
        label=_("Old counter showed last"),
        min_value=0,
        max_value=MOST,
        required=False,
        help_text=_("Leave empty if nobody knows: its part then ends at the last reading."),
    )
    serial = forms.CharField(label=_("Number of the new counter"), max_length=80)
    first_value = forms.IntegerField(
        label=_("New counter shows"), min_value=0, max_value=MOST, initial=0
    )
    digits = forms.IntegerField(
        label=_("Digits, if other than the door model's"), min_value=3, max_value=9, required=False
    )
    counts_per_cycle = forms.TypedChoiceField(
        label=_("Counts per cycle, if other than the door model's"),
        choices=(("", _("as the model")), (1, _("one, per opening")), (2, _("two, per movement"))),
        coerce=int,
        empty_value=None,
        required=False,
    )

    def old(self, *, record_began_on: date) -> OldCounter:
        """What is known of the counter that comes off."""
        return OldCounter(
            last_value=self.cleaned_data["last_value"], record_began_on=record_began_on
        )

    def new(self) -> NewCounter:
        """The counter that goes on."""
        return NewCounter(
            serial=self.cleaned_data["serial"],
            first_value=self.cleaned_data["first_value"],
            digits=self.cleaned_data["digits"],
            counts_per_cycle=self.cleaned_data["counts_per_cycle"],
        )
