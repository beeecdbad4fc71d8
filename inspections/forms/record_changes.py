"""Which changes are listed: whose, and of which day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import User
from inspections.forms.fields import DayField


@dataclass(frozen=True)
class Choice:
    """A person, and a stretch of time; None chooses all."""

    person: User | None = None
    since: datetime | None = None
    until: datetime | None = None


class RecordChangesForm(forms.Form):
    """Choose a person, a day, both or neither."""

    person = forms.ModelChoiceField(
        User.objects.order_by("username"), label=_("Who"), required=False, empty_label=_("anybody")
    )
    day = DayField(label=_("Day"), required=False)

    def choice(self) -> Choice:
        """Person, beginning and end of the day; what was not understood chooses nothing."""
        chosen = self.cleaned_data if self.is_valid() else {}
        day = chosen.get("day")
        since = timezone.make_aware(datetime(day.year, day.month, day.day)) if day else None
        until = since + timedelta(days=1) if since else None
        return Choice(chosen.get("person"), since, until)
