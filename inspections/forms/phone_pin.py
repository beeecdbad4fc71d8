"""The form in which a person sets the own PIN for shared phones."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import User
from inspections.services.phone_pins import LONGEST


def _digits() -> forms.PasswordInput:
    attrs = {"inputmode": "numeric", "autocomplete": "off", "maxlength": LONGEST}
    return forms.PasswordInput(attrs=attrs)


class PhonePinForm(forms.Form):
    """A new PIN, typed twice, by the word of the own password."""

    pin = forms.CharField(
        label=_("New PIN"), widget=_digits(), help_text=_("4 to 8 digits that nobody guesses.")
    )
    again = forms.CharField(label=_("The same PIN again"), widget=_digits())
    password = forms.CharField(
        label=_("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text=_("So that nobody else sets it while you are signed in."),
    )

    def __init__(self, request: HttpRequest, person: User) -> None:
        super().__init__(request.POST or None)
        self.request = request
        self.person = person

    def clean_password(self) -> str:
        """Wrong passwords are counted as at the sign-in."""
        typed: str = self.cleaned_data["password"]
        found = authenticate(self.request, username=self.person.get_username(), password=typed)
        if found != self.person:
            raise ValidationError(_now("This is not your password."))
        return typed

    def clean(self) -> dict[str, Any]:
        """Both PINs are one."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("pin") and cleaned.get("again") and cleaned["pin"] != cleaned["again"]:
            self.add_error("again", _now("The two PINs differ."))
        return cleaned
