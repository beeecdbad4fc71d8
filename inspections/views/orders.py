"""Pages of orders: the list, one order with all that became of it, a new one, another line."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from inspections.forms.orders import OrderFilterForm, OrderForm, OrderLineForm
from inspections.models import OrderReceipt, PurchaseOrder, Supplier
from inspections.order_words import late_words, list_words
from inspections.services.landed_cost import landed_cost
from inspections.services.ordering import put_on_order, write_order
from inspections.tables import OrderTable
from inspections.views.carrying_out import ask, carried_out

READERS = (Role.BUYER, Role.PLANNER)


@open_to(*READERS)
def order_list(request: SignedInRequest) -> HttpResponse:
    """Which orders are on their way, which are late, and which came."""
    today = timezone.localdate()
    visible = PurchaseOrder.objects.visible_to(request.user)
    form = OrderFilterForm(request.GET, user=request.user)
    chosen = form.cleaned_data if form.is_valid() else {}
    orders = {"late": visible.late(today), "all": visible}.get(
        chosen.get("which", ""), visible.still_open()
    )
    if chosen.get("depot"):
        orders = orders.filter(depot=chosen["depot"])
    table = OrderTable(orders.with_sums(), today=today)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    context = {
        "form": form,
        "table": table,
        "words": list_words(visible, today),
        "is_empty": not visible.exists(),
        "has_suppliers": Supplier.objects.exists(),
        "may_write": request.user.has_any_role(Role.BUYER),
    }
    return render(request, "inspections/order_list.html", context)


@open_to(Role.BUYER)
def order_new(request: SignedInRequest) -> HttpResponse:
    """Begin an order with its first line."""
    form = OrderForm(request.POST or None, user=request.user, initial=_asked(request))
    if form.is_valid():
        made: list[PurchaseOrder] = []

        def write() -> None:
            made.append(
                write_order(
                    supplier=form.cleaned_data["supplier"],
                    depot=form.cleaned_data["depot"],
                    wanted=[form.wanted()],
                    entered_at=timezone.now(),
                    entered_by=request.user,
                )
            )

        if carried_out(form, write):
            return redirect("order-detail", made[0].number)
    lead = _("It stays with you until you place it. Whole packs and the supplier's minimum count.")
    heading, save = _("What is ordered, from whom, for which depot?"), _("Begin the order")
    return ask(request, form, heading=heading, lead=lead, save=save, back=reverse("order-list"))


@open_to(*READERS)
def order_detail(request: SignedInRequest, number: str) -> HttpResponse:
    """An order: its lines, what came of them, what it costs, and the next thing to do."""
    order = order_in_sight(request, number)
    now = timezone.now()
    with timezone.override(order.depot.zone):
        return render(request, "inspections/order_detail.html", _facts(request, order, now))


@open_to(Role.BUYER)
def order_line_new(request: SignedInRequest, number: str) -> HttpResponse:
    """Add a part to an order that is being written."""
    order = order_in_sight(request, number)
    form = OrderLineForm(request.POST or None, initial={"part": request.GET.get("part")})
    back = reverse("order-detail", args=[order.number])
    today = timezone.localdate(timezone=order.depot.zone)
    if form.is_valid() and carried_out(
        form, lambda: put_on_order(order=order, wanted=form.wanted(), today=today)
    ):
        messages.success(request, _("On the order: %(part)s.") % form.cleaned_data)
        return redirect(back)
    heading = _("What else is on order %(order)s?") % {"order": order}
    lead = _("A part that is on it already takes the new figure.")
    return ask(request, form, heading=heading, lead=lead, save=_("Put it on the order"), back=back)


def order_in_sight(request: SignedInRequest, number: str) -> PurchaseOrder:
    """The order with that number for a depot that the person may see, or 404."""
    orders = PurchaseOrder.objects.visible_to(request.user)
    return get_object_or_404(orders.select_related("supplier", "depot", "placed_by"), number=number)


def _facts(request: SignedInRequest, order: PurchaseOrder, now: datetime) -> dict[str, object]:
    receipts = OrderReceipt.objects.filter(line__order=order).with_links()
    return {
        "order": order,
        "landed": landed_cost(order),
        "receipts": receipts,
        "steps": order.steps.select_related("line__part", "entered_by"),
        "charges": order.charges.all(),
        "late": late_words(order, timezone.localdate(now)),
        "may_write": request.user.has_any_role(Role.BUYER),
        "may_receive": request.user.has_any_role(Role.BUYER, Role.TECHNICIAN),
    }


def _asked(request: SignedInRequest) -> dict[str, object]:
    """What a link to the page wants filled in."""
    asked: dict[str, object] = {
        name: request.GET[name]
        for name in ("part", "quantity", "supplier", "why")
        if name in request.GET
    }
    depot = Depot.objects.visible_to(request.user).filter(code=request.GET.get("depot", ""))
    return asked | {"depot": depot.first()}
