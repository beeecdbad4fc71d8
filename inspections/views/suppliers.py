"""Pages of suppliers: who sells what at which price, and how long they took."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.suppliers import SupplierForm, SupplierPriceForm
from inspections.models import PurchaseOrder, Supplier, SupplierPrice
from inspections.services.lead_times import lead_times
from inspections.views.carrying_out import ask

READERS = (Role.BUYER, Role.PLANNER)


@open_to(*READERS)
def supplier_list(request: SignedInRequest) -> HttpResponse:
    """Who parts are bought from."""
    context = {
        "suppliers": Supplier.objects.with_counts(),
        "may_write": request.user.has_any_role(Role.BUYER),
    }
    return render(request, "inspections/supplier_list.html", context)


@open_to(Role.BUYER)
def supplier_new(request: SignedInRequest) -> HttpResponse:
    """Keep a new supplier."""
    form = SupplierForm(request.POST or None)
    if form.is_valid():
        return redirect("supplier-detail", form.save().code)
    heading, back = _("Who sells us parts?"), reverse("supplier-list")
    return ask(request, form, heading=heading, lead="", save=_("Keep the supplier"), back=back)


@open_to(*READERS)
def supplier_detail(request: SignedInRequest, code: str) -> HttpResponse:
    """A supplier: prices by day, and days from order to delivery against those quoted."""
    supplier = get_object_or_404(Supplier, code=code)
    may_write = request.user.has_any_role(Role.BUYER)
    form = SupplierPriceForm(
        request.POST if may_write and request.method == "POST" else None,
        instance=SupplierPrice(supplier=supplier),
        initial={"currency": supplier.currency, "valid_from": timezone.localdate()},
    )
    if form.is_valid():
        form.save()
        return redirect("supplier-detail", supplier.code)
    context = {
        "supplier": supplier,
        "prices": supplier.prices.select_related("part").order_by("part__name", "-valid_from"),
        "orders": PurchaseOrder.objects.visible_to(request.user)
        .filter(supplier=supplier)
        .with_sums()[:20],
        "lead_times": lead_times(supplier=supplier),
        "form": form if may_write else None,
    }
    return render(request, "inspections/supplier_detail.html", context)
