"""How many cycles between failures, by component, door model, depot or route kind."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from analytics.forms.reliability_filter import ReliabilityFilterForm
from analytics.reports.basis import basis_at
from analytics.reports.reliability_page import reliability_page
from analytics.reports.reliability_scope import fetch_scope
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER, Role.BUYER)
def reliability(request: SignedInRequest) -> HttpResponse:
    """Groups compared with their bounds, what fails, whether it grows, and who stands out."""
    form = ReliabilityFilterForm(request.GET, user=request.user)
    depot_ids = form.depot_ids(depot_ids_of(request.user))
    basis = basis_at(depot_ids, now=timezone.now())
    by = form.by_what()
    scope = fetch_scope(depot_ids, form.component_asked(), by)
    context = {
        "form": form,
        "page": reliability_page(scope, by, basis),
        "component": scope.component,
        "clear_url": "" if form.is_empty else reverse("reliability"),
        "ignored": form.ignored(),
    }
    return render(request, "analytics/reliability.html", context)
