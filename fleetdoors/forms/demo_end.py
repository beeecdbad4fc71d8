"""The form that ends the demo."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import User


class DemoEndForm(forms.Form):
    """Who goes on alone, as administrator of the empty database."""

    administrator = forms.CharField(
        label=_("Your name to sign in with"),
        max_length=150,
        validators=[UnicodeUsernameValidator()],
        widget=forms.TextInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("A password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("The password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    is_meant = forms.BooleanField(
        label=_("Everything in this demo goes, also what was entered since")
    )

    def clean(self) -> dict[str, Any]:
        """Both passwords the same, and one that the rules let pass."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        password = cleaned.get("password")
        if password and "again" in cleaned and password != cleaned["again"]:
            self.add_error("again", _("The two passwords differ."))
        elif password:
            try:
                validate_password(password, User(username=cleaned.get("administrator", "")))
            except ValidationError as why:
                self.add_error("password", why)
        return cleaned
