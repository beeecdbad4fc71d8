"""The year ahead: work against hours, waves of wearing parts, and what-ifs."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from analytics.forms.work_ahead import WorkAheadForm
from analytics.reports.basis import basis_at
from analytics.reports.scope import depot_ids_of
from analytics.reports.work_ahead_page import year_ahead
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER)
def work_ahead(request: SignedInRequest) -> HttpResponse:
    """Whether the work of a year fits the hours, as it is and as it would be."""
    form = WorkAheadForm(request.GET, user=request.user)
    in_sight = depot_ids_of(request.user)
    basis = basis_at(in_sight, now=timezone.now())
    context = {
        "form": form,
        "basis": basis,
        "page": year_ahead(
            basis.run, form.depot_ids(in_sight), form.what_if(), form.hours_factor()
        ),
        "ignored": form.ignored(),
        "clear_url": "" if form.is_empty else reverse("work-ahead"),
        "may_recompute": True,
    }
    return render(request, "analytics/work_ahead.html", context)
