"""The form by which a system gets its token."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot


class MachineTokenForm(forms.Form):
    """Which system, what it may do, and for which depots."""

    name = forms.CharField(
        label=_("System"),
        max_length=80,
        help_text=_("What you call it; readings it posts carry this name."),
    )
    may_post_readings = forms.BooleanField(label=_("It posts counter readings"), required=False)
    may_read = forms.BooleanField(
        label=_("It reads doors, due tasks, figures and stock"), required=False
    )
    depots = forms.ModelMultipleChoiceField(
        Depot.objects.order_by("code"),
        label=_("Depots"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: every depot."),
    )
