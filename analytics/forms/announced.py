"""What is coming, typed by a buyer or planner: one form for each kind."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from analytics.reports.scope import depot_ids_of
from fleetdoors.models import Depot, DoorModel, Part, Truck, User
from inspections.forms.fields import DayField
from inspections.models import AnnouncedKind
from inspections.models.announced_change import LEAST_FACTOR, MOST_FACTOR
from inspections.services.announced_changes import Announcement

MOST_DOORS, MOST_CYCLES, MOST_PIECES = 100_000, 1_000, 100
WHOLE = {"inputmode": "numeric"}
DECIMAL = {"step": "any", "inputmode": "decimal"}


_MISSING = {
    "depot": _("No depot is on record yet. An administrator keeps the first, or a fleet is brought "
               "in."),
    "door_model": _("No door model is on record yet. An administrator keeps the first, or a fleet "
                    "is brought in."),
    "part": _("The catalogue holds no part yet. An administrator keeps the first, or a fleet is "
              "brought in."),
}  # fmt: skip


class AnnouncementForm(forms.Form):
    """What every kind asks: where, from which day, and who says so."""

    kind = ""
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=_("Depot"), empty_label=_("choose a depot")
    )
    from_on = DayField(label=_("From which day"))
    note = forms.CharField(
        label=_("Who says so, and why"),
        max_length=200,
        help_text=_("Whoever wonders at the forecast later will read it."),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._choices("depot").queryset = Depot.objects.visible_to(user)

    def _choices(self, name: str) -> forms.ModelChoiceField[Any]:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)  # declared so above
        return field

    def missing(self) -> str:
        """What has to be on record before anything can be announced; nothing where all is."""
        for name in ("depot", "door_model", "part"):
            if name not in self.fields:
                continue
            offered = self._choices(name).queryset
            if offered is None or not offered.exists():
                return str(_MISSING[name])
        return ""

    def said(self) -> Announcement:
        """The announcement as the service takes it; call it on a valid form."""
        return Announcement(kind=self.kind, **self.cleaned_data)


class NewTrucksForm(AnnouncementForm):
    """Trucks that come with doors of one model."""

    kind = AnnouncedKind.TRUCKS
    door_model = forms.ModelChoiceField(
        DoorModel.objects.order_by("code"),
        label=_("Door model"),
        empty_label=_("choose a door model"),
    )
    doors = forms.IntegerField(
        label=_("How many doors"),
        min_value=1,
        max_value=MOST_DOORS,
        widget=forms.NumberInput(attrs=WHOLE),
    )
    cycles_per_day = forms.FloatField(
        label=_("Cycles a day of each"),
        min_value=0.1,
        max_value=MOST_CYCLES,
        widget=forms.NumberInput(attrs=DECIMAL),
        help_text=_("Of every day of the year, idle days in it."),
    )
    field_order = ("depot", "door_model", "doors", "from_on", "cycles_per_day", "note")


class OtherUseForm(AnnouncementForm):
    """Trucks of a depot, of a kind of route or of both that will run more or less."""

    kind = AnnouncedKind.USE
    route_kind = forms.ChoiceField(label=_("Kind of route"), required=False)
    factor = forms.FloatField(
        label=_("Times the use of today"),
        min_value=LEAST_FACTOR,
        max_value=MOST_FACTOR,
        widget=forms.NumberInput(attrs=DECIMAL),
        help_text=_("1.5 is half as many cycles again; 0.8 is a fifth fewer."),
    )
    until_on = DayField(
        label=_("Until which day"),
        required=False,
        help_text=_("The last day of it. Leave empty when it stays so."),
    )
    field_order = ("depot", "route_kind", "factor", "from_on", "until_on", "note")

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, user=user, **kwargs)
        depots = Depot.objects.visible_to(user)
        if depot_ids_of(user) is None:
            field = self._choices("depot")
            field.required, field.empty_label = False, str(_("every depot"))
        kinds = Truck.objects.filter(depot__in=depots).exclude(route_kind="")
        names = kinds.order_by("route_kind").values_list("route_kind", flat=True).distinct()
        route = self.fields["route_kind"]
        assert isinstance(route, forms.ChoiceField)  # declared above
        route.choices = [("", _("every route")), *((name, name) for name in names)]


class CampaignForm(AnnouncementForm):
    """A part that is taken off many doors, and what is fitted in its place."""

    kind = AnnouncedKind.CAMPAIGN
    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Part that comes off"),
        empty_label=_("choose a part"),
        help_text=_("A revision has a part number of its own."),
    )
    new_part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Part that is fitted"),
        required=False,
        empty_label=_("what has taken its place, or the same"),
    )
    doors = forms.IntegerField(
        label=_("On how many doors"),
        min_value=1,
        max_value=MOST_DOORS,
        widget=forms.NumberInput(attrs=WHOLE),
    )
    pieces_per_door = forms.IntegerField(
        label=_("Pieces on each door"),
        min_value=1,
        max_value=MOST_PIECES,
        initial=1,
        widget=forms.NumberInput(attrs=WHOLE),
    )
    until_on = DayField(
        label=_("Until which day"),
        help_text=_("The day by which all are changed; the work is spread evenly until then."),
    )
    field_order = (
        "depot", "part", "new_part", "doors", "pieces_per_door", "from_on", "until_on", "note",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Where nobody names the new part, the newest that replaces the old one is fitted."""
        cleaned = super().clean() or {}
        if cleaned.get("part") and not cleaned.get("new_part") and "new_part" not in self.errors:
            cleaned["new_part"] = newest_of(cleaned["part"])
        return cleaned


def newest_of(part: Part) -> Part:
    """The part that supersession leads to; queries once for each step."""
    seen = {part.pk}
    while (after := part.replaced_by.order_by("-part_number").first()) and after.pk not in seen:
        seen.add(after.pk)
        part = after
    return part


FORMS: dict[str, type[AnnouncementForm]] = {
    str(form.kind): form for form in (NewTrucksForm, OtherUseForm, CampaignForm)
}
HEADINGS = {
    AnnouncedKind.TRUCKS.value: _("Which new trucks are coming?"),
    AnnouncedKind.USE.value: _("Which trucks will run more or less?"),
    AnnouncedKind.CAMPAIGN.value: _("Which part is changed on many doors?"),
}


def heading_of(kind: str) -> str:
    """The question that the page of a kind asks."""
    return str(HEADINGS[kind]) if kind in HEADINGS else _now("What is coming?")
