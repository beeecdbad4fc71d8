"""Forms for what work costs: minutes of a visit, an hour's price, invoices from outside."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, User
from fleetdoors.services.finding import find_trucks_and_doors
from inspections.forms.fields import DayField
from inspections.models import MOST_MINUTES
from inspections.services.outside_invoices import MOST_AMOUNT, Invoiced


class MinutesForm(forms.Form):
    """How long a visit took; put right with a reason."""

    minutes = forms.IntegerField(
        label=_("Minutes worked, all hands together"),
        min_value=1,
        max_value=MOST_MINUTES,
        help_text=_("Kept for the visit, never for a person."),
    )
    reason = forms.CharField(label=_("Why it is put right"), max_length=200, required=False)

    def __init__(self, *args: Any, is_first: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_first:
            del self.fields["reason"]


class RateForm(forms.Form):
    """What an hour of work costs at a depot from a day on."""

    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=_("Depot"), empty_label=_("choose a depot")
    )
    per_hour = forms.DecimalField(
        label=_("An hour of work costs"),
        min_value=0,
        max_value=MOST_AMOUNT,
        max_digits=10,
        decimal_places=2,
    )
    currency = forms.CharField(label=_("Currency, three letters"), max_length=3)
    from_on = DayField(label=_("From"))
    reason = forms.CharField(
        label=_("Why, if a price of that day is put right"), max_length=200, required=False
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)  # declared above
        field.queryset = Depot.objects.visible_to(user)


class InvoiceForm(forms.Form):
    """An invoice for work that somebody outside did on a door."""

    supplier = forms.CharField(label=_("Who wrote it"), max_length=200)
    number = forms.CharField(label=_("Invoice number"), max_length=60)
    invoiced_on = DayField(label=_("Date of the invoice"))
    amount = forms.DecimalField(
        label=_("Amount"), min_value=0, max_value=MOST_AMOUNT, max_digits=12, decimal_places=2
    )
    currency = forms.CharField(label=_("Currency, three letters"), max_length=3)
    where = forms.CharField(
        label=_("Truck or door"),
        max_length=80,
        help_text=_("The number of the truck, or of the door where a truck has several."),
    )
    what_for = forms.CharField(
        label=_("What for"), max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_where(self) -> DoorUnit:
        """The one door meant, among those the person may see."""
        typed = self.cleaned_data["where"]
        found = find_trucks_and_doors(user=self.user, typed=typed)
        serials = {match.door for match in found.exact if match.door}
        if len(serials) != 1:
            raise forms.ValidationError(
                _now("“%(typed)s” is several doors: type the door's number.") % {"typed": typed}
                if serials
                else _now("No truck with a door, and no door, is called “%(typed)s”.")
                % {"typed": typed}
            )
        return DoorUnit.objects.get(serial=serials.pop())

    def said(self) -> Invoiced:
        """The invoice as the service takes it."""
        facts = dict(self.cleaned_data)
        return Invoiced(door=facts.pop("where"), **facts)


class InvoiceBackForm(forms.Form):
    """Why an invoice is taken back, and whether it is entered anew."""

    reason = forms.CharField(label=_("Why it is taken back"), max_length=200)
    is_entered_anew = forms.BooleanField(
        label=_("Then enter it anew, corrected"), required=False, initial=True
    )
