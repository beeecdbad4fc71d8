"""Forms of one-off checks."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorModel, Part
from inspections.services.one_off_checks import Finding


class OneOffCheckForm(forms.Form):
    """What to look at once, and on which doors."""

    title = forms.CharField(label=_("Title"), max_length=120)
    what_to_look_at = forms.CharField(
        label=_("What to look at"), max_length=2000, widget=forms.Textarea(attrs={"rows": 4})
    )
    door_model = forms.ModelChoiceField(
        DoorModel.objects.order_by("code"),
        label=_("Every door of the model"),
        required=False,
        empty_label=_("no model"),
    )
    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Or every door that carries the part"),
        required=False,
        empty_label=_("no part"),
        help_text=_("With its revision, where the part has one."),
    )


class OneOffLookForm(forms.Form):
    """What was found on the doors ticked."""

    is_as_it_should_be = forms.ChoiceField(
        label=_("Found"),
        choices=[("yes", _("as it should be")), ("no", _("not right"))],
        widget=forms.RadioSelect,
        initial="yes",
    )
    note = forms.CharField(label=_("What was found"), max_length=300, required=False)
    looked_by = forms.CharField(label=_("Looked at by"), max_length=100)

    def __init__(self, data: Any = None, *, looked_by: str) -> None:
        super().__init__(data, initial={"looked_by": looked_by})

    def finding(self) -> Finding:
        """What was found, as the service takes it."""
        found = self.cleaned_data
        return Finding(
            found["is_as_it_should_be"] == "yes", found["note"].strip(), found["looked_by"].strip()
        )


class WhyForm(forms.Form):
    """A reason in one line."""

    reason = forms.CharField(label=_("Why"), max_length=200)
