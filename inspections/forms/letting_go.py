"""The form that lets the records of one door go."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit


class LettingGoForm(forms.Form):
    """The door's number, typed: nobody deletes a record by a slip of the finger."""

    door = forms.CharField(
        label=_("Number of the door"),
        max_length=100,
        help_text=_("Type it as it stands in the list. What is let go cannot be brought back."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    def clean_door(self) -> DoorUnit:
        """The door with this very number."""
        typed: Any = self.cleaned_data["door"]
        door = DoorUnit.objects.filter(serial=typed).first()
        if door is None:
            raise forms.ValidationError(gettext("There is no door with this number."))
        return door
