"""Forms for orders: begin one, add a line, place it, postpone, call off, add a cost."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part, User
from inspections.forms.fields import DayField, MomentField
from inspections.models import ChargeKind, OrderLine, Supplier
from inspections.services.ordering import Wanted

MOST = 100_000


class OrderLineForm(forms.Form):
    """Pieces of one part; packs and minimum are the supplier's."""

    part = forms.ModelChoiceField(
        Part.objects.order_by("name", "part_number"),
        label=_("Part"),
        empty_label=_("choose a part"),
    )
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=MOST)
    unit_price = forms.DecimalField(
        label=_("Price of a piece"),
        min_value=0,
        max_digits=12,
        decimal_places=4,
        required=False,
        help_text=_("Leave empty to take the supplier's price of today."),
    )
    why = forms.CharField(label=_("Why"), max_length=200, required=False)

    def wanted(self) -> Wanted:
        """The line as the service takes it."""
        return Wanted(**self.cleaned_data)


class OrderForm(OrderLineForm):
    """A new order with its first line."""

    supplier = forms.ModelChoiceField(
        Supplier.objects.filter(is_active=True).order_by("name"),
        label=_("Supplier"),
        empty_label=_("choose a supplier"),
    )
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=_("Delivered to"), empty_label=_("choose a depot")
    )
    field_order = ("supplier", "depot", "part", "quantity", "unit_price", "why")

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["depot"].queryset = Depot.objects.visible_to(user)  # type: ignore[attr-defined]

    def wanted(self) -> Wanted:
        """The first line as the service takes it."""
        names = ("part", "quantity", "unit_price", "why")
        return Wanted(**{name: self.cleaned_data[name] for name in names})


class PlaceOrderForm(forms.Form):
    """When the order went to the supplier, and under which number there."""

    placed_at = MomentField(label=_("Placed at"))
    reference = forms.CharField(label=_("Supplier's reference"), max_length=80, required=False)


class NewDayForm(forms.Form):
    """Another day named by the supplier."""

    expected_on = DayField(label=_("Expected on"))
    note = forms.CharField(label=_("Who said so, and why"), max_length=200, required=False)


class CallOffForm(forms.Form):
    """How many pieces will not come, and why."""

    pieces = forms.IntegerField(label=_("Pieces that will not come"), min_value=1, max_value=MOST)
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(self, *args: object, line: OrderLine, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["pieces"].initial = line.outstanding


class ReasonForm(forms.Form):
    """Why something is taken back, called off or given free."""

    reason = forms.CharField(label=_("Why"), max_length=200)


class ChargeForm(forms.Form):
    """A cost beside the parts, in the order's currency."""

    kind = forms.ChoiceField(label=_("What for"), choices=ChargeKind.choices)
    amount = forms.DecimalField(
        label=_("Amount"),
        max_digits=12,
        decimal_places=2,
        help_text=_("Below zero takes one back that was entered before."),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)


class OrderFilterForm(forms.Form):
    """Which orders are listed."""

    STATES = (
        ("open", _("still open")),
        ("late", _("late")),
        ("all", _("all")),
    )
    which = forms.ChoiceField(label=_("Orders"), choices=STATES, required=False)
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=_("Depot"), required=False, empty_label=_("all in sight")
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["depot"].queryset = Depot.objects.visible_to(user)  # type: ignore[attr-defined]
