"""What stands once at the head of a sheet of readings, and its rows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inspections.forms.fields import DayField
from inspections.services.reading_grid import KeyedRow

ROWS = 40
MOST_ROWS = 400
LONGEST_CELL = 80


class GridForm(forms.Form):
    """The day and hour of the sheet, and who read."""

    read_on = DayField(label=_("Read on"))
    read_about = forms.TimeField(
        label=_("About"), initial=time(12), widget=forms.TimeInput(attrs={"type": "time"})
    )
    read_by = forms.CharField(label=_("Read by"), max_length=100, required=False)

    def __init__(self, data: Mapping[str, Any] | None, *, today: date) -> None:
        super().__init__(data, initial={"read_on": today})

    def moment(self) -> datetime:
        """The moment of the sheet by the depot's clock."""
        cleaned = self.cleaned_data
        return datetime.combine(
            cleaned["read_on"], cleaned["read_about"], timezone.get_current_timezone()
        )


def grid_rows(posted: QueryDict) -> list[KeyedRow]:
    """The rows in which something was typed, numbered as on the page."""
    named, typed = posted.getlist("named"), posted.getlist("counter")
    pairs = list(zip(named, typed, strict=False))[:MOST_ROWS]
    return [
        KeyedRow(number, name.strip()[:LONGEST_CELL], value.strip()[:LONGEST_CELL])
        for number, (name, value) in enumerate(pairs, start=1)
        if name.strip() or value.strip()
    ]
