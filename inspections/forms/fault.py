"""Forms for faults and the parts they took."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Component, Part, Removal
from inspections.codes import FAILURE_MODES, MODE_CHOICES, Action, Complaint, DetectedBy
from inspections.forms.fields import MomentField
from inspections.services.faults import FaultFacts, PartUse
from inspections.symptoms import LIKELY_COMPONENTS

PART_ROWS = 4
NOT_SAID = ("", _("not said"))


class FaultForm(forms.Form):
    """An account of a fault: what the driver said, what it was, what was done."""

    complaint = forms.ChoiceField(
        label=_("The driver said"), choices=[NOT_SAID, *Complaint.choices], required=False
    )
    component = forms.ChoiceField(label=_("It was"), required=False)
    mode = forms.ChoiceField(label=_("How it failed"), required=False)
    is_failure = forms.BooleanField(
        label=_("The door could not do something it has to do (a failure)"),
        required=False,
        initial=True,
    )
    action = forms.ChoiceField(
        label=_("What was done"), choices=[NOT_SAID, *Action.choices], required=False
    )
    detected_by = forms.ChoiceField(
        label=_("Who found it"), choices=[NOT_SAID, *DetectedBy.choices], required=False
    )
    found_at = MomentField(label=_("Found at"))
    off_road_from = MomentField(label=_("Off the road from"), required=False)
    off_road_until = MomentField(label=_("Back on the road at"), required=False)
    at_cycles = forms.IntegerField(
        label=_("Lifetime cycles of the door"),
        min_value=0,
        max_value=10**12,
        required=False,
        help_text=_("Leave empty to take them from the readings around that moment."),
    )
    note = forms.CharField(
        label=_("In your words"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        components: Iterable[Component],
        initial: Mapping[str, Any],
    ) -> None:
        super().__init__(data, initial=dict(initial))
        self.components = {component.code: component for component in components}
        complaint = self["complaint"].value() or ""
        component = cast("forms.ChoiceField", self.fields["component"])
        component.choices = _component_choices(self.components, complaint)
        mode = cast("forms.ChoiceField", self.fields["mode"])
        mode.choices = [NOT_SAID, *MODE_CHOICES]
        # Every mode is understood, but only those of the component are offered.
        mode.widget.choices = mode_choices(self["component"].value() or "", self.components)

    def clean_component(self) -> Component | None:
        """The component itself; one may be left out where nobody knows yet."""
        return self.components.get(self.cleaned_data["component"])

    def clean(self) -> dict[str, Any]:
        """A failure mode alone says which component it was."""
        cleaned = super().clean() or self.cleaned_data
        mode = FAILURE_MODES.get(cleaned.get("mode", ""))
        if mode and not cleaned.get("component"):
            cleaned["component"] = self.components.get(mode.component)
        return cleaned

    def facts(self) -> FaultFacts:
        """The account as the service takes it."""
        cleaned = self.cleaned_data
        return FaultFacts(
            found_at=cleaned["found_at"],
            at_cycles=cleaned["at_cycles"],
            component=cleaned["component"],
            mode=cleaned["mode"],
            complaint=cleaned["complaint"],
            detected_by=cleaned["detected_by"],
            is_failure=cleaned["is_failure"],
            action=cleaned["action"],
            off_road_from=cleaned["off_road_from"],
            off_road_until=cleaned["off_road_until"],
            note=cleaned["note"],
        )


class FaultCorrectionForm(FaultForm):
    """What should have been written about a fault, and why."""

    reason = forms.CharField(label=_("Why"), max_length=200)


class PartRowForm(forms.Form):
    """One part used, and whether it took a fitted part's place."""

    # Filled in by the rows, which read the parts once for all of them.
    parts: Mapping[int, Part] = {}

    part = forms.ChoiceField(label=_("Part"), required=False)
    quantity = forms.IntegerField(
        label=_("Pieces"), min_value=1, max_value=9999, initial=1, required=False
    )
    removal = forms.ChoiceField(
        label=_("The old part"),
        choices=[("", _("stays, or there was none")), *Removal.choices],
        required=False,
    )
    position = forms.CharField(
        label=_("Position"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"list": "positions", "autocomplete": "off"}),
        help_text=_("Only where the door has several, such as left and right."),
    )

    def clean(self) -> dict[str, Any]:
        """A row is whole or empty."""
        cleaned = super().clean() or self.cleaned_data
        told = (
            cleaned.get("removal"),
            cleaned.get("position"),
            cleaned.get("quantity") not in (None, 1),
        )
        if not cleaned.get("part") and any(told):
            raise ValidationError(_now("Say which part it was, or empty the row."))
        if cleaned.get("part") and "quantity" not in self.errors and not cleaned.get("quantity"):
            raise ValidationError(_now("Say how many pieces were used."))
        return cleaned

    def use(self) -> PartUse | None:
        """The row as the service takes it, None for an empty one."""
        number = self.cleaned_data.get("part")
        if not number:
            return None
        return PartUse(
            part=self.parts[int(number)],
            quantity=self.cleaned_data["quantity"],
            position=self.cleaned_data["position"].strip(),
            removal=self.cleaned_data["removal"],
        )


class BasePartRows(forms.BaseFormSet):
    """The rows for parts used; they share one list of parts."""

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        parts: Iterable[Part],
        prefix: str = "parts",
        initial: list[dict[str, Any]] | None = None,
    ) -> None:
        super().__init__(data, prefix=prefix, initial=initial)
        self.parts = {part.pk: part for part in parts}
        self.choices = _part_choices(self.parts.values())

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        cast("PartRowForm", form).parts = self.parts
        cast("forms.ChoiceField", form.fields["part"]).choices = self.choices

    def uses(self) -> list[PartUse]:
        """The rows that name a part, as the service takes them."""
        return [use for row in self.forms if (use := row.use())]


PartRows = cast(
    "type[BasePartRows]",
    forms.formset_factory(
        PartRowForm,
        formset=BasePartRows,
        extra=PART_ROWS,
        max_num=PART_ROWS,
        absolute_max=PART_ROWS,
    ),
)


def mode_choices(component: str, components: Mapping[str, Component]) -> list[Any]:
    """The failure modes of a component; of all, under their names, while none is chosen."""
    own = [(mode.code, mode.name) for mode in FAILURE_MODES.values() if mode.component == component]
    if component:
        return [NOT_SAID, *own]
    groups: dict[str, list[Any]] = {}
    for mode in FAILURE_MODES.values():
        name = str(components.get(mode.component, mode.component))
        groups.setdefault(name, []).append((mode.code, mode.name))
    return [NOT_SAID, *sorted(groups.items())]


def _component_choices(components: Mapping[str, Component], complaint: str) -> list[Any]:
    """What the complaint most often leads to first, then the rest."""
    likely = [code for code in LIKELY_COMPONENTS.get(complaint, ()) if code in components]
    rest = [(code, str(part)) for code, part in components.items() if code not in likely]
    first = [(code, str(components[code])) for code in likely]
    not_known = ("", _("not known yet"))
    if not first:
        return [not_known, *rest]
    return [not_known, (_("Most often"), first), (_("All others"), rest)]


def _part_choices(parts: Iterable[Part]) -> list[Any]:
    groups: dict[str, list[Any]] = {}
    for part in parts:
        heading = str(part.component or _("Other"))
        groups.setdefault(heading, []).append((str(part.pk), str(part)))
    return [("", _("none")), *groups.items()]
