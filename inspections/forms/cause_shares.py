"""The form that says how often each cause is it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from inspections.tracing.likelihood import GROUPS


class CauseSharesForm(forms.Form):
    """A share for each cause, together a hundred, and why they change."""

    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(self, data: Mapping[str, Any] | None, *, initial: Mapping[str, float]) -> None:
        super().__init__(data, initial={code: f"{share:g}" for code, share in initial.items()})
        for code, group in GROUPS.items():
            self.fields[code] = forms.FloatField(
                label=capfirst(_now(group.name)),
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )
        self.order_fields([*GROUPS, "reason"])

    def percent(self) -> dict[str, float]:
        """The shares as the service takes them."""
        return {code: self.cleaned_data[code] for code in GROUPS}
