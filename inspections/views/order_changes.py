"""Pages that change an order: place it, another day, call off, a cost, a reminder."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.orders import (
    CallOffForm,
    ChargeForm,
    NewDayForm,
    PlaceOrderForm,
    ReasonForm,
)
from inspections.models import OrderLine, PurchaseOrder
from inspections.services.order_changes import (
    add_charge,
    call_off,
    call_off_order,
    name_another_day,
    remind_supplier,
)
from inspections.services.order_state import OrderRefusedError
from inspections.services.ordering import place_order, strike_line
from inspections.views.carrying_out import ask, carried_out
from inspections.views.orders import order_in_sight


def line_in_sight(request: SignedInRequest, pk: int) -> OrderLine:
    """A line of an order for a depot that the person may see, or 404."""
    visible = PurchaseOrder.objects.visible_to(request.user)
    lines = OrderLine.objects.filter(order__in=visible).with_links()
    return get_object_or_404(lines, pk=pk)


@open_to(Role.BUYER)
def order_place(request: SignedInRequest, number: str) -> HttpResponse:
    """Say that the order went to the supplier."""
    order = order_in_sight(request, number)
    back = reverse("order-detail", args=[order.number])
    with timezone.override(order.depot.zone):
        form = PlaceOrderForm(request.POST or None, initial={"placed_at": timezone.now()})
        if form.is_valid() and carried_out(
            form,
            lambda: place_order(
                order=order,
                entered_at=timezone.now(),
                placed_by=request.user,
                **form.cleaned_data,
            ),
        ):
            messages.success(request, _("Order %(order)s is placed.") % {"order": order})
            return redirect(back)
        heading = _("When did order %(order)s go to %(supplier)s?") % {
            "order": order, "supplier": order.supplier,
        }  # fmt: skip
        lead = _("From now on its pieces count as on order.")
        return ask(request, form, heading=heading, lead=lead, save=_("It is placed"), back=back)


@open_to(Role.BUYER)
@require_POST
def line_strike(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a line off an order that is being written."""
    line = line_in_sight(request, pk)
    try:
        strike_line(line=line)
    except OrderRefusedError as refused:
        messages.error(request, str(refused))
    return redirect("order-detail", line.order.number)


@open_to(Role.BUYER)
def line_day(request: SignedInRequest, pk: int) -> HttpResponse:
    """Note another day that the supplier named."""
    line = line_in_sight(request, pk)
    form = NewDayForm(request.POST or None, initial={"expected_on": line.expected_on})
    back = reverse("order-detail", args=[line.order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: name_another_day(
            line=line, entered_at=timezone.now(), entered_by=request.user, **form.cleaned_data
        ),
    ):
        return redirect(back)
    heading = _("When will %(part)s come?") % {"part": line.part}
    lead = _("The days named before stay on record.")
    return ask(request, form, heading=heading, lead=lead, save=_("Note the day"), back=back)


@open_to(Role.BUYER)
def line_call_off(request: SignedInRequest, pk: int) -> HttpResponse:
    """Say that pieces of a line will not come."""
    line = line_in_sight(request, pk)
    form = CallOffForm(request.POST or None, line=line)
    back = reverse("order-detail", args=[line.order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: call_off(
            line=line, entered_at=timezone.now(), entered_by=request.user, **form.cleaned_data
        ),
    ):
        return redirect(back)
    heading = _("How many of %(part)s will not come?") % {"part": line.part}
    lead = _("%(left)d are still to come. What was received stays.") % {"left": line.outstanding}
    return ask(request, form, heading=heading, lead=lead, save=_("Call them off"), back=back)


@open_to(Role.BUYER)
def order_call_off(request: SignedInRequest, number: str) -> HttpResponse:
    """Call off everything that is still to come."""
    order = order_in_sight(request, number)
    form = ReasonForm(request.POST or None)
    back = reverse("order-detail", args=[order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: call_off_order(
            order=order, entered_at=timezone.now(), entered_by=request.user, **form.cleaned_data
        ),
    ):
        return redirect(back)
    heading = _("Why is order %(order)s called off?") % {"order": order}
    lead = _("What was received stays; nothing more is expected.")
    return ask(request, form, heading=heading, lead=lead, save=_("Call it off"), back=back)


@open_to(Role.BUYER)
def order_remind(request: SignedInRequest, number: str) -> HttpResponse:
    """Note that the supplier was asked where the pieces are."""
    order = order_in_sight(request, number)
    form = ReasonForm(request.POST or None)
    form.fields["reason"].label = _("Who was asked, and what they said")
    back = reverse("order-detail", args=[order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: remind_supplier(
            order=order,
            note=form.cleaned_data["reason"],
            entered_at=timezone.now(),
            entered_by=request.user,
        ),
    ):
        return redirect(back)
    heading = _("Where are the pieces of order %(order)s?") % {"order": order}
    return ask(request, form, heading=heading, lead="", save=_("Note it"), back=back)


@open_to(Role.BUYER)
def order_charge(request: SignedInRequest, number: str) -> HttpResponse:
    """Note freight, duty or another cost beside the parts."""
    order = order_in_sight(request, number)
    form = ChargeForm(request.POST or None)
    back = reverse("order-detail", args=[order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: add_charge(
            order=order, entered_at=timezone.now(), entered_by=request.user, **form.cleaned_data
        ),
    ):
        return redirect(back)
    heading = _("What else does order %(order)s cost, in %(currency)s?") % {
        "order": order, "currency": order.currency,
    }  # fmt: skip
    lead = _("It is shared out over the lines by their value.")
    return ask(request, form, heading=heading, lead=lead, save=_("Note the cost"), back=back)
