"""One part: how many will be needed, why, and what to order."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from analytics.forms.part_filter import PartDepotForm
from analytics.reports.basis import basis_at
from analytics.reports.part_page import part_page
from analytics.reports.reliability_page import computed_words
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Part, Role


@open_to(Role.PLANNER, Role.BUYER)
def part_detail(request: SignedInRequest, part: str) -> HttpResponse:
    """A part at each depot in sight, and in full at the depot chosen."""
    known = Part.objects.select_related("component", "replaces").prefetch_related("fits")
    found = get_object_or_404(known, part_number=part)
    chosen = PartDepotForm(request.GET, user=request.user).depot_asked()
    depot_ids, now = depot_ids_of(request.user), timezone.now()
    basis = basis_at(depot_ids, now=now)
    context = {
        "part": found,
        "page": part_page(found, depot_ids, chosen, basis, now=now),
        "computed": computed_words(basis),
    }
    return render(request, "analytics/part_detail.html", context)
