"""Forms for pieces that come and go: at the desk, in a delivery, from place to place."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit, Part, PartKit
from inspections.forms.fields import DayField
from inspections.models import StockLot, StockPlace
from inspections.services.receiving import Delivered

MOST = 100_000
TYPED = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}


class DoorField(forms.CharField):
    """A door by its serial number."""

    def __init__(self) -> None:
        super().__init__(
            label=_("For door"),
            max_length=80,
            required=False,
            help_text=_("The serial number on the box, if it is for one door."),
            widget=forms.TextInput(attrs=TYPED),
        )

    def clean(self, value: Any) -> Any:
        """The door that has the serial number."""
        serial = super().clean(value).strip()
        if not serial:
            return None
        door = DoorUnit.objects.filter(serial=serial).first()
        if door is None:
            raise forms.ValidationError(
                _("No door has the serial number %(serial)s."), params={"serial": serial}
            )
        return door


class CodeForm(forms.Form):
    """A code typed or scanned: of an order or of a part."""

    code = forms.CharField(
        label=_("Number of the order or of the part"),
        max_length=80,
        widget=forms.TextInput(attrs={**TYPED, "autofocus": True}),
        help_text=_("A hand scanner types it for you."),
    )


class DeliveryForm(forms.Form):
    """What came, and what is marked on the packing."""

    quantity = forms.IntegerField(
        label=_("Pieces that came"),
        min_value=1,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    damaged = forms.IntegerField(
        label=_("Of these damaged or wrong"),
        min_value=0,
        max_value=MOST,
        required=False,
        initial=0,
        help_text=_("They are set aside and not counted as there for work."),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    lot = forms.CharField(
        label=_("Lot"), max_length=80, required=False, widget=forms.TextInput(attrs=TYPED)
    )
    use_by_on = DayField(label=_("Use by"), required=False)
    delivery_note = forms.CharField(
        label=_("Number of the delivery note"),
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs=TYPED),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(self, *args: object, part: Part, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        if part.shelf_life_days is not None:
            self.fields["use_by_on"].required = True

    def delivered(self) -> Delivered:
        """The delivery as the service takes it."""
        facts = self.cleaned_data
        return Delivered(
            quantity=facts["quantity"],
            damaged=facts["damaged"] or 0,
            lot=facts["lot"],
            use_by_on=facts["use_by_on"],
            delivery_note=facts["delivery_note"],
            note=facts["note"],
        )


class UnorderedDeliveryForm(DeliveryForm):
    """A delivery that no order of ours speaks of: from whom, and to which place."""

    place = forms.ModelChoiceField(StockPlace.objects.none(), label=_("Where it is put"))
    field_order = ("place", "quantity", "damaged", "lot", "use_by_on", "delivery_note", "note")

    def __init__(
        self, *args: object, part: Part, places: QuerySet[StockPlace], **kwargs: object
    ) -> None:
        super().__init__(*args, part=part, **kwargs)
        self.fields["place"].queryset = places  # type: ignore[attr-defined]


class ArrivalForm(forms.Form):
    """How many pieces of a transfer arrived."""

    arrived = forms.IntegerField(
        label=_("Pieces that arrived"),
        min_value=0,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    shortfall_reason = forms.CharField(
        label=_("Why pieces are missing"), max_length=200, required=False
    )


class MoveForm(forms.Form):
    """What happens to pieces of one part at a depot."""

    KINDS = (
        ("issue", _("handed out for work")),
        ("return", _("brought back unused")),
        ("aside", _("set aside: may not be fitted")),
        ("write_off", _("written off: gone for good")),
    )
    kind = forms.ChoiceField(label=_("What happens"), choices=KINDS, widget=forms.RadioSelect)
    place = forms.ModelChoiceField(StockPlace.objects.none(), label=_("At"), empty_label=None)
    quantity = forms.IntegerField(
        label=_("Pieces"),
        min_value=1,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    door = DoorField()
    lot = forms.ModelChoiceField(
        StockLot.objects.none(),
        label=_("Lot"),
        required=False,
        empty_label=_("the one to be used up first"),
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        required=False,
        help_text=_("Needed for what is set aside or written off."),
    )

    def __init__(
        self, *args: object, places: QuerySet[StockPlace], part: Part, **kwargs: object
    ) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["place"].queryset = places  # type: ignore[attr-defined]
        self.fields["lot"].queryset = StockLot.objects.filter(part=part)  # type: ignore[attr-defined]


class KitForm(forms.Form):
    """Which kit, from which place, for which door."""

    kit = forms.ModelChoiceField(
        PartKit.objects.order_by("name", "code"), label=_("Kit"), empty_label=_("choose a kit")
    )
    place = forms.ModelChoiceField(StockPlace.objects.none(), label=_("From"), empty_label=None)
    door = DoorField()

    def __init__(self, *args: object, places: QuerySet[StockPlace], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["place"].queryset = places  # type: ignore[attr-defined]


class SendForm(forms.Form):
    """Pieces that go from a place of the depot to another place."""

    from_place = forms.ModelChoiceField(
        StockPlace.objects.none(), label=_("From"), empty_label=None
    )
    to_place = forms.ModelChoiceField(
        StockPlace.objects.none(), label=_("To"), empty_label=_("choose a place")
    )
    quantity = forms.IntegerField(
        label=_("Pieces"),
        min_value=1,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(
        self, *args: object, here: QuerySet[StockPlace], anywhere: QuerySet[StockPlace],
        **kwargs: object,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["from_place"].queryset = here  # type: ignore[attr-defined]
        self.fields["to_place"].queryset = anywhere  # type: ignore[attr-defined]
