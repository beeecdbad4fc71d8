"""Why a visit was done on another night than planned."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from inspections.models import OffPlanCause


class OffPlanForm(forms.Form):
    """A reason out of seven, and a note."""

    cause = forms.ChoiceField(label=_("Why"), choices=OffPlanCause, widget=forms.RadioSelect)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)
