"""Pages on which deliveries are received: by a code typed or scanned, line by line."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Part, Role
from inspections.forms.orders import ReasonForm
from inspections.forms.stock_moves import CodeForm, DeliveryForm, UnorderedDeliveryForm
from inspections.models import OrderLine, OrderReceipt, PurchaseOrder, StockPlace
from inspections.services.issuing import Said
from inspections.services.receiving import (
    receive_line,
    receive_without_order,
    take_back_receipt,
)
from inspections.views.carrying_out import ask, carried_out
from inspections.views.order_changes import line_in_sight

MOST = 60
STORES = (Role.BUYER, Role.TECHNICIAN)


@open_to(*STORES)
def receive_start(request: SignedInRequest) -> HttpResponse:
    """Find what came by the number of its order or part; without one, all that is expected."""
    form = CodeForm({"code": request.GET["code"]} if "code" in request.GET else None)
    code = form.cleaned_data["code"].strip() if form.is_valid() else ""
    visible = PurchaseOrder.objects.visible_to(request.user)
    lines = OrderLine.objects.outstanding().filter(order__in=visible).with_links()
    if code:
        lines = lines.with_code(code)
    found = list(lines.order_by("expected_on", "order__number", "pk")[:MOST])
    context = {
        # What was found needs no second look: the field is free for the next number scanned.
        "form": CodeForm() if code and found else form,
        "code": code,
        "lines": found,
        "part": Part.objects.filter(part_number__iexact=code).first() if code else None,
        "today": timezone.localdate(),
    }
    return render(request, "inspections/receive.html", context)


@open_to(*STORES)
def receive_order_line(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put pieces of an order line on the shelf."""
    line = line_in_sight(request, pk)
    initial = {"quantity": line.outstanding, "damaged": 0}
    form = DeliveryForm(request.POST or None, part=line.part, initial=initial)
    if form.is_valid() and carried_out(
        form,
        lambda: receive_line(line=line, delivered=form.delivered(), said=said_now(request)),
    ):
        return _after(request, line, form.cleaned_data["quantity"])
    heading = _("How many of %(part)s came?") % {"part": line.part}
    lead = _("Order %(order)s, %(supplier)s: %(left)d of %(pieces)d are still to come.") % {
        "order": line.order, "supplier": line.order.supplier,
        "left": line.outstanding, "pieces": line.quantity,
    }  # fmt: skip
    back = reverse("receive")
    return ask(request, form, heading=heading, lead=lead, save=_("Put on the shelf"), back=back)


@open_to(*STORES)
def receive_part(request: SignedInRequest, part: str) -> HttpResponse:
    """Put pieces on a shelf that no order of ours speaks of."""
    found = get_object_or_404(Part, part_number=part)
    places = StockPlace.objects.visible_to(request.user).for_work()
    form = UnorderedDeliveryForm(request.POST or None, part=found, places=places)
    if form.is_valid() and carried_out(
        form,
        lambda: receive_without_order(
            part=found,
            place=form.cleaned_data["place"],
            delivered=form.delivered(),
            said=said_now(request),
        ),
    ):
        messages.success(request, _("Received: %(part)s.") % {"part": found})
        return redirect("receive")
    heading = _("How many of %(part)s came?") % {"part": found}
    lead = _("A delivery without an order here. Say in the note where it comes from.")
    back = reverse("receive")
    return ask(request, form, heading=heading, lead=lead, save=_("Put on the shelf"), back=back)


@open_to(Role.BUYER)
def receipt_undo(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take back a delivery that was entered wrongly."""
    visible = StockPlace.objects.visible_to(request.user)
    receipts = OrderReceipt.objects.filter(place__in=visible).with_links()
    receipt = get_object_or_404(receipts, pk=pk)
    form = ReasonForm(request.POST or None)
    back = reverse("stock-ledger", args=[receipt.place.depot.code, receipt.part.part_number])
    if receipt.line:
        back = reverse("order-detail", args=[receipt.line.order.number])
    if form.is_valid() and carried_out(
        form,
        lambda: take_back_receipt(
            receipt=receipt, entered_at=timezone.now(), entered_by=request.user,
            **form.cleaned_data,
        ),
    ):  # fmt: skip
        return redirect(back)
    heading = _("Why is the delivery of %(part)s taken back?") % {"part": receipt.part}
    lead = _("Its %(pieces)d pieces leave the shelf again.") % {"pieces": receipt.quantity}
    return ask(request, form, heading=heading, lead=lead, save=_("Take it back"), back=back)


def _after(request: SignedInRequest, line: OrderLine, came: int) -> HttpResponse:
    """To the rest of the order while any of it is to come, else to all that is expected."""
    said = _("Received: %(pieces)d of %(part)s.") % {"pieces": came, "part": line.part}
    line.refresh_from_db(fields=("received", "called_off"))
    if line.outstanding:
        still = _("Still to come of it: %(left)d.") % {"left": line.outstanding}
        said = f"{said} {still}"
    messages.success(request, said)
    rest = OrderLine.objects.outstanding().filter(order=line.order)
    if not rest.exists():
        return redirect("receive")
    return redirect(reverse("receive", query={"code": line.order.number}))


def said_now(request: SignedInRequest) -> Said:
    """The person says it now."""
    now = timezone.now()
    return Said(at=now, entered_at=now, by=request.user)
