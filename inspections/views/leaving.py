"""Who can leave, in order of departure."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot
from inspections.services.leaving import leaving_trucks


@open_to()
def leaving(request: SignedInRequest, code: str) -> HttpResponse:
    """The depot's trucks by hour of leaving, each with what keeps it."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    now = timezone.now()
    with timezone.override(depot.zone):
        trucks = leaving_trucks(depot, now)
        context = {
            "depot": depot,
            "trucks": trucks,
            "staying": sum(each.stays for each in trucks),
            "shown_at": now,
        }
        return render(request, "inspections/leaving.html", context)
