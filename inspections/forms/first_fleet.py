"""The form for a first depot, its door model and its trucks."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Setting
from fleetdoors.units_in_use import in_words_lazy
from inspections.services.first_fleet import (
    FirstFleet,
    LinesRefusedError,
    TypedTruck,
    on_record_already,
    read_trucks,
)


def zones() -> list[tuple[str, str]]:
    """Every time zone with a place in its name, and UTC."""
    return [(zone, zone) for zone in sorted(available_timezones()) if "/" in zone or zone == "UTC"]


class FirstFleetForm(forms.Form):
    """Three answers for each: the depot, the door model, the trucks. The rest has a default."""

    depot = forms.CharField(
        label=_("Short name of the depot"),
        max_length=40,
        help_text=_(
            "As people say it, such as NORTH: it stands in tables and on labels. One that is on "
            "record keeps its settings, and so does a door model."
        ),
    )
    depot_name = forms.CharField(label=_("Its full name"), max_length=200, required=False)
    timezone = forms.ChoiceField(
        label=_("Time zone of the depot"),
        choices=zones,
        initial=settings.TIME_ZONE,
        widget=forms.Select(attrs={"data-own-zone": ""}),
    )
    surroundings = forms.MultipleChoiceField(
        label=_("What wears doors here?"),
        choices=[each for each in Setting.choices if each[0] != Setting.NORMAL],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Each shortens the intervals that it wears on."),
    )
    bay_hours_per_day = forms.FloatField(
        label=_("Hours of door work a day"),
        min_value=0,
        max_value=24 * 50,
        required=False,
        help_text=_("Of everybody together; the week's plan is made to fit them."),
    )
    door_model = forms.CharField(
        label=_("Door model"),
        max_length=60,
        help_text=in_words_lazy(
            _(
                "A name of yours for this type of door. Its limits begin at common practice (drive "
                "31 to 33 V, sensor 25 mm; no source): put the maker's figures in their place."
            )
        ),
    )
    supply_volts = forms.TypedChoiceField(
        label=_("The truck's battery"),
        choices=[("12", "12 V"), ("24", "24 V")],
        coerce=float,
        initial="12",
    )
    counter_digits = forms.IntegerField(
        label=_("Digits of the counter"), min_value=3, max_value=9, initial=6
    )
    counts_per_cycle = forms.TypedChoiceField(
        label=_("The counter goes on"),
        choices=[
            ("1", _("once a cycle (open and close)")),
            ("2", _("twice a cycle, at open and at close")),
        ],
        coerce=int,
        initial="1",
    )
    trucks = forms.CharField(
        label=_("Trucks, one a line"),
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
        help_text=_(
            "The truck's number; after a comma, if at hand, the door's serial number; after "
            "another comma what its counter shows now. From a spreadsheet, paste three columns."
        ),
    )

    def clean_trucks(self) -> list[TypedTruck]:
        """The lines, read; every fault of them at once, then what is on record already."""
        try:
            trucks = read_trucks(self.cleaned_data["trucks"])
        except LinesRefusedError as refusal:
            raise ValidationError(refusal.reasons) from refusal
        if there := on_record_already(trucks):
            raise ValidationError(there)
        return trucks

    def clean(self) -> dict[str, Any]:
        """A counter shows no more digits than it has."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        digits, trucks = cleaned.get("counter_digits"), cleaned.get("trucks")
        if digits and trucks:
            for each in trucks:
                if each.counter_value is not None and each.counter_value >= 10**digits:
                    self.add_error(
                        "trucks",
                        _("%(truck)s: the counter has %(digits)s digits, %(value)s has more.")
                        % {"truck": each.truck, "digits": digits, "value": each.counter_value},
                    )
        return cleaned

    def fleet(self) -> FirstFleet:
        """What was typed."""
        answers = dict(self.cleaned_data)
        surroundings = answers.pop("surroundings")
        return FirstFleet(setting="+".join(surroundings) or Setting.NORMAL, **answers)
