"""The form of an inspection: every quantity by group, empty = not measured."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetdoors.measures import scale_of
from fleetdoors.units_in_use import scales_as_json, system_in_use
from inspections.forms.fields import MomentField, typed_system, units_field
from inspections.models import InspectionKind
from inspections.quantities import GROUP_NAMES, QUANTITIES, Group
from inspections.services.inspecting import InspectionFacts

COLDEST, HOTTEST = -60, 150
NOT_LOOKED_AT = ("", _("not looked at"))


@dataclass(frozen=True)
class FieldGroup:
    """Fields that are filled in one go, under their heading."""

    heading: Promise
    rows: list[QuantityField]
    is_open: bool
    has_current: bool


@dataclass(frozen=True)
class QuantityField:
    """A field with the unit behind it."""

    field: BoundField
    unit: str


class InspectionForm(forms.Form):
    """What was looked at and measured; the current and temperature belong to the motor's end."""

    all_as_it_should_be = forms.BooleanField(
        label=_("All as it should be, but for what is entered below"),
        required=False,
        help_text=_(
            "Says that every point under “Look and try” was looked at and tried. Tasks of the "
            "visit whose checks are then all on record count as done."
        ),
    )
    kind = forms.ChoiceField(
        label=_("Inspection"), choices=InspectionKind.choices, widget=forms.RadioSelect
    )
    inspector = forms.CharField(label=_("Inspector"), max_length=100)
    begun_at = MomentField(label=_("Begun at"))
    engine_running = forms.BooleanField(label=_("Engine running"), required=False)
    amps = forms.FloatField(label=_("Current while the door runs"), required=False, min_value=0)
    celsius = forms.FloatField(label=_("Temperature"), required=False)
    note = forms.CharField(
        label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )
    # Set once the page has asked about unusual values and the person has looked again.
    # The units that stood beside the boxes when they were filled; none = as on record.
    units = units_field()
    is_confirmed = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None, *, initial: Mapping[str, Any]) -> None:
        super().__init__(data, initial={"units": system_in_use(), **initial})
        self.system = typed_system(data)
        for quantity in QUANTITIES.values():
            self.fields[quantity.code] = (
                forms.ChoiceField(
                    label=str(quantity.name),
                    required=False,
                    choices=[
                        NOT_LOOKED_AT,
                        *((f"{value:g}", word) for value, word in quantity.grades),
                    ],
                )
                if quantity.grades
                else forms.FloatField(
                    label=str(quantity.name),
                    required=False,
                    widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                )
            )

    def groups(self) -> list[FieldGroup]:
        """The quantities under their headings; a group with something in it stands open."""
        groups = []
        for group in Group:
            fields = [
                QuantityField(self[each.code], scale_of(each.unit, self.system).unit)
                for each in QUANTITIES.values()
                if each.group == group
            ]
            filled = any(each.field.value() or each.field.errors for each in fields)
            heading, is_open = GROUP_NAMES[group], bool(filled) or group == Group.LOOK
            groups.append(FieldGroup(heading, fields, is_open, group == Group.DRIVE))
        return groups

    @property
    def celsius_unit(self) -> str:
        """The unit beside the temperature."""
        return scale_of("°C", self.system).unit

    @property
    def scales(self) -> str:
        """The units beside the boxes that differ from those on record, for the page's script."""
        return json.dumps(scales_as_json(self.system))

    def clean(self) -> dict[str, Any]:
        """Every number as it goes on record, whatever the units it was typed in."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        units = {code: each.unit for code, each in QUANTITIES.items() if not each.grades}
        for name, unit in (*units.items(), ("celsius", "°C")):
            if cleaned.get(name) is not None:
                cleaned[name] = scale_of(unit, self.system).kept(cleaned[name])
        celsius = cleaned.get("celsius")
        if celsius is not None and not COLDEST <= celsius <= HOTTEST:
            self.add_error("celsius", _("A temperature between −60 and 150 °C is possible."))
        return cleaned

    def values(self) -> dict[str, float]:
        """What was entered, by quantity."""
        found = {code: self.cleaned_data.get(code) for code in QUANTITIES}
        return {code: float(value) for code, value in found.items() if value not in (None, "")}

    def facts(self) -> InspectionFacts:
        """The rest as the service takes it."""
        cleaned = self.cleaned_data
        return InspectionFacts(
            begun_at=cleaned["begun_at"],
            inspector=cleaned["inspector"],
            kind=cleaned["kind"],
            all_as_it_should_be=cleaned["all_as_it_should_be"],
            amps=cleaned["amps"],
            celsius=cleaned["celsius"],
            engine_running=cleaned["engine_running"],
            note=cleaned["note"],
        )
