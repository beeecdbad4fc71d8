"""How long a component lasts."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from analytics.forms.component_costs import ComponentCostsForm
from analytics.reports.basis import basis_at
from analytics.reports.component_page import component_page
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Component, Role


@open_to(Role.PLANNER, Role.BUYER)
def component_detail(request: SignedInRequest, component: str) -> HttpResponse:
    """Life, age and failure, whether a planned change pays, and what will fail next."""
    found = get_object_or_404(Component, code=component)
    form = ComponentCostsForm(request.GET)
    depot_ids = depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    context = {
        "component": found,
        "form": form,
        "page": component_page(found, depot_ids, form.costs(), basis),
        "ignored": form.ignored(),
    }
    return render(request, "analytics/component_detail.html", context)
