"""Forms for the usual week: hours of the bay, trucks at home, people, closed days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, User, Weekday
from fleetdoors.models.week_hours import HomeWindow
from fleetdoors.services.week_hours import DepotDay, HomeTime
from inspections.forms.fields import DayField

TIME = {"type": "time"}


class HomeDayForm(forms.Form):
    """One day of the week: whether trucks are home, and from when until when."""

    is_home = forms.BooleanField(label=_("Home"), required=False, initial=True)
    home_from = forms.TimeField(
        label=_("from"), required=False, widget=forms.TimeInput(attrs=TIME, format="%H:%M")
    )
    home_until = forms.TimeField(
        label=_("until"), required=False, widget=forms.TimeInput(attrs=TIME, format="%H:%M")
    )

    def __init__(self, data: Any, *, weekday: int, row: HomeWindow | None) -> None:
        self.weekday = Weekday(weekday)
        super().__init__(data, prefix=f"day{weekday}", initial=_initial(row))
        for name, field in self.fields.items():
            field.widget.attrs["aria-label"] = f"{self.weekday.label}, {field.label}"
            del name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if (cleaned.get("home_from") is None) != (cleaned.get("home_until") is None):
            raise ValidationError(_now("A time at home has a beginning and an end, or neither."))
        return cleaned

    def home_time(self) -> HomeTime:
        """The day as the service takes it."""
        cleaned = self.cleaned_data
        is_home = cleaned["is_home"]
        return HomeTime(
            int(self.weekday),
            is_home,
            cleaned["home_from"] if is_home else None,
            cleaned["home_until"] if is_home else None,
        )


class DepotDayForm(HomeDayForm):
    """One day of a depot's week."""

    bay_hours = forms.FloatField(
        label=_("Hours in the bay"), required=False, min_value=0, max_value=24 * 50
    )
    field_order = ("bay_hours", "is_home", "home_from", "home_until")

    def depot_day(self) -> DepotDay:
        """The day as the service takes it."""
        return DepotDay(self.home_time(), self.cleaned_data["bay_hours"])


class ClosedDayForm(forms.Form):
    """A date on which a depot's bay is shut."""

    closed_on = DayField(label=_("Shut on"))
    reason = forms.CharField(label=_("Why"), max_length=100, required=False)


class PersonWeekForm(forms.Form):
    """How long a person works at a depot on each day of the week."""

    def __init__(self, data: Any, *, person: User, hours: Mapping[int, float]) -> None:
        self.person = person
        super().__init__(data, prefix=f"person{person.pk}")
        for weekday in Weekday:
            self.fields[f"day{weekday.value}"] = forms.FloatField(
                label=weekday.label,
                required=False,
                min_value=0,
                max_value=24,
                initial=hours.get(weekday.value),
                widget=forms.NumberInput(
                    attrs={"aria-label": f"{person}, {weekday.label}", "step": "0.5"}
                ),
            )

    def hours(self) -> dict[int, float]:
        """Hours by day of the week."""
        return {day.value: self.cleaned_data[f"day{day.value}"] or 0.0 for day in Weekday}


class SpringWordForm(forms.Form):
    """Whom the shop names for spring work, until when, and on what ground."""

    person = forms.ModelChoiceField(User.objects.none(), label=_("Person"), empty_label=None)
    from_on = DayField(label=_("From"))
    until_on = DayField(label=_("Until"))
    granted_by = forms.CharField(label=_("Granted by"), max_length=100)
    evidence = forms.CharField(
        label=_("Evidence"),
        max_length=200,
        required=False,
        help_text=_("Course, date and where the paper is kept."),
    )

    def __init__(self, data: Any, *, people: Any, initial: Mapping[str, Any]) -> None:
        super().__init__(data, initial=dict(initial))
        field = self.fields["person"]
        assert isinstance(field, forms.ModelChoiceField)  # declared above
        field.queryset = people

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("from_on"), cleaned.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", _now("It ends after it begins."))
        return cleaned


def depot_day_forms(data: Any, depot: Depot) -> Sequence[DepotDayForm]:
    """The seven days of a depot; queries once."""
    rows = {row.weekday: row for row in depot.weekdays.all()}
    return [DepotDayForm(data, weekday=day.value, row=rows.get(day.value)) for day in Weekday]


def _initial(row: HomeWindow | None) -> dict[str, Any]:
    if row is None:
        return {}
    facts = {"is_home": row.is_home, "home_from": row.home_from, "home_until": row.home_until}
    return facts | {"bay_hours": getattr(row, "bay_hours", None)}
