"""Fields that take what people type and say kindly what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.measures import System
from fleetdoors.units_in_use import system_in_use

EARLIEST_YEAR, LATEST_YEAR = 1970, 2100


def units_field() -> forms.ChoiceField:
    """Carries the units that stood beside the boxes, also through a phone without a signal."""
    choices = [(system.value, system.value) for system in System]
    return forms.ChoiceField(choices=choices, required=False, widget=forms.HiddenInput)


def typed_system(data: Mapping[str, Any] | None) -> System:
    """The units in which a form was filled; those in use for one that is still empty.

    What names no units is metric, as on record: older phones and other systems send it so.
    """
    if data is None:
        return system_in_use()
    named = data.get("units", "")
    return System(named) if named in list(System) else System.METRIC


class MomentInput(forms.DateTimeInput):
    """The browser's own picker of date and time."""

    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M")


class DayInput(forms.DateInput):
    """The browser's own picker of a date."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class MomentField(forms.DateTimeField):
    """A moment by the clock of the depot.

    An hour that the clocks repeat in autumn is taken as its first passing, and one they skip in
    spring as if they had not: Django would refuse both, and the reading would be lost.
    """

    widget = MomentInput

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        if isinstance(value, datetime):
            return value
        try:
            moment = datetime.fromisoformat(str(value).strip())
        except ValueError as error:
            raise ValidationError(
                _("A moment is a date and a time; %(value)s is not."), params={"value": value}
            ) from error
        if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
            raise ValidationError(
                _("A moment lies between the years %(first)d and %(last)d; %(value)s does not."),
                params={"first": EARLIEST_YEAR, "last": LATEST_YEAR, "value": value},
            )
        return moment if moment.tzinfo else moment.replace(tzinfo=timezone.get_current_timezone())


class DayField(forms.DateField):
    """A day between the years that a fleet can have lived through."""

    widget = DayInput

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value and not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
            raise ValidationError(
                _("A date lies between the years %(first)d and %(last)d; %(value)s does not."),
                params={"first": EARLIEST_YEAR, "last": LATEST_YEAR, "value": value},
            )


class CounterValueField(forms.CharField):
    """The digits of a counter; kept as typed until they are understood."""

    def __init__(self, *, digits: int, label: Any) -> None:
        super().__init__(
            label=label,
            widget=forms.TextInput(
                attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": digits}
            ),
        )
        self.digits = digits

    def clean(self, value: Any) -> Any:
        typed = "".join(super().clean(value).split())
        if typed.startswith("-") and typed[1:].isdecimal():
            raise ValidationError(
                _("A counter shows no number below 0: %(value)s was entered."),
                params={"value": typed},
            )
        if not (typed.isascii() and typed.isdecimal()):
            raise ValidationError(
                _("Only digits stand on a counter: “%(value)s” has something else in it."),
                params={"value": value},
            )
        if len(typed) > self.digits:
            raise ValidationError(
                _("This counter has %(digits)d digits: %(value)s has more."),
                params={"digits": self.digits, "value": typed},
            )
        return int(typed)


def same_minute(moment: datetime, original: datetime) -> datetime:
    """The original where a form, which knows minutes only, gave it back unchanged."""
    return original if moment == original.replace(second=0, microsecond=0) else moment
