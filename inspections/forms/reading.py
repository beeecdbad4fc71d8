"""Forms for counter readings."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspections.forms.fields import CounterValueField, MomentField
from inspections.models import CounterReading


class ReadingForm(forms.Form):
    """A counter value and its moment; nothing here hints at what is expected."""

    read_at = MomentField(label=_("Read at"))
    is_correction = forms.BooleanField(required=False, label=_("This corrects what is on record"))

    # Another value on record for the same moment, once the entry was found to clash with it.
    clash: CounterReading | None = None

    def __init__(self, data: Mapping[str, Any] | None, *, now: datetime, digits: int) -> None:
        super().__init__(data, initial={"read_at": now})
        self.fields["counter_value"] = CounterValueField(digits=digits, label=_("Counter"))
        self.order_fields(["counter_value", "read_at"])


class ReadingCorrectionForm(forms.Form):
    """What a reading should have been, and why; the moment may be left as it was."""

    read_at = MomentField(label=_("Read at"), required=False)
    reason = forms.CharField(
        label=_("Why"), max_length=200, help_text=_("One line that the next person understands.")
    )

    def __init__(
        self, data: Mapping[str, Any] | None, *, reading: CounterReading, digits: int
    ) -> None:
        super().__init__(
            data, initial={"read_at": reading.read_at, "counter_value": reading.counter_value}
        )
        self.fields["counter_value"] = CounterValueField(digits=digits, label=_("Counter"))
        self.order_fields(["counter_value", "read_at", "reason"])
