"""The form for a call from the road."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from inspections.codes import Complaint


class RoadsideForm(forms.Form):
    """Who calls from where, what the door does, and whether the truck can go."""

    truck = forms.CharField(label=_("Truck or door number"), max_length=80)
    reporter = forms.CharField(label=_("Who calls"), max_length=100)
    call_back = forms.CharField(label=_("Number to call back"), max_length=40, required=False)
    where = forms.CharField(label=_("Where the truck is"), max_length=200, required=False)
    complaint = forms.ChoiceField(
        label=_("What does the door do?"), choices=Complaint.choices, widget=forms.RadioSelect
    )
    can_be_secured = forms.ChoiceField(
        label=_("Can the door be closed and secured by hand?"),
        choices=[("yes", _("yes")), ("no", _("no")), ("unknown", _("the driver cannot tell"))],
        widget=forms.RadioSelect,
    )
    is_damaged = forms.BooleanField(
        label=_("A spring or lift cable is broken, or the door dropped"), required=False
    )
    words = forms.CharField(
        label=_("In the driver's words"),
        max_length=700,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
