"""What a print page is asked for."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from analytics.reports.due_on_paper import MOST_WEEKS
from inspections.forms.fields import DayField

USUAL_WEEKS = 4


class RecordRangeForm(forms.Form):
    """The days of which a record is printed."""

    from_on = DayField(label=_("From"), required=False)
    until_on = DayField(label=_("Until"), required=False)


class WeeksForm(forms.Form):
    """How many weeks ahead are printed."""

    weeks = forms.IntegerField(
        label=_("Weeks"), min_value=1, max_value=MOST_WEEKS, required=False, initial=USUAL_WEEKS
    )

    def chosen(self) -> int:
        """The weeks asked for, the usual ones where that was no number of weeks."""
        return (self.is_valid() and self.cleaned_data["weeks"]) or USUAL_WEEKS
