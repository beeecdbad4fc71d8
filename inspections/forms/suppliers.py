"""Forms for suppliers, their prices, and claims on them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part, User
from inspections.forms.fields import DayField
from inspections.models import ClaimKind, PartReturn, Supplier, SupplierPrice
from inspections.services.part_claims import next_steps


class SupplierForm(forms.ModelForm):
    """A supplier as it is kept."""

    class Meta:
        model = Supplier
        fields = (
            "code", "name", "currency", "email", "phone", "customer_number", "note", "is_active",
        )  # fmt: skip


class SupplierPriceForm(forms.ModelForm):
    """A price from a day on; the one before stays on record."""

    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"), label=_("Part"), empty_label=_("choose")
    )
    valid_from = DayField(label=_("From"))

    class Meta:
        model = SupplierPrice
        fields = (
            "part", "supplier_part_number", "unit_price", "currency", "pack_size",
            "minimum_quantity", "quoted_lead_days", "valid_from",
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """One price a day for each part: another one begins on another day."""
        facts: dict[str, Any] = super().clean() or {}
        begins_on = facts.get("valid_from")
        same = SupplierPrice.objects.filter(supplier=self.instance.supplier, part=facts.get("part"))
        if begins_on and same.filter(valid_from=begins_on).exists():
            self.add_error("valid_from", _now("A price of this part begins on that day already."))
        return facts


class ClaimForm(forms.Form):
    """What is claimed from whom, and what is wrong."""

    kind = forms.ChoiceField(
        label=_("What is claimed"), choices=ClaimKind.choices, widget=forms.RadioSelect
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), label=_("Depot"), empty_label=None)
    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"), label=_("Part"), empty_label=_("choose")
    )
    supplier = forms.ModelChoiceField(
        Supplier.objects.order_by("name"), label=_("Supplier"), empty_label=_("choose")
    )
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=10_000, initial=1)
    is_from_stock = forms.BooleanField(
        label=_("Lies among the stock set aside (an old unit taken off a door does not)"),
        required=False,
    )
    serial = forms.CharField(label=_("Serial number"), max_length=80, required=False)
    what_is_wrong = forms.CharField(
        label=_("What is wrong"), max_length=500, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["depot"].queryset = Depot.objects.visible_to(user)  # type: ignore[attr-defined]


class ClaimStepForm(forms.Form):
    """The next step of a claim."""

    kind = forms.ChoiceField(label=_("Next step"), widget=forms.RadioSelect)
    credit = forms.DecimalField(
        label=_("Credit"), min_value=0, max_digits=12, decimal_places=2, required=False
    )
    note = forms.CharField(label=_("Note"), max_length=500, required=False)

    def __init__(self, *args: object, claim: PartReturn, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["kind"].choices = [  # type: ignore[attr-defined]
            (step.value, step.label) for step in next_steps(claim)
        ]
