"""A depot's wall on a screen that hangs in the workshop: it renews itself, nobody touches it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from analytics.reports.basis import basis_in
from analytics.reports.wall import wall
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot
from inspections.models import RoadHold, Visit

SECONDS_BETWEEN = 60
VISITS_SHOWN = 12


@open_to()
def wall_screen(request: SignedInRequest, code: str) -> HttpResponse:
    """What stays, what is on tonight, and the doors that are worst, in letters read from afar."""
    depot = get_object_or_404(Depot.objects.visible_to(request.user), code=code)
    now = timezone.now()
    with timezone.override(depot.zone):
        basis = basis_in(depot.zone, now=now)
        here = Depot.objects.filter(pk=depot.pk)
        context = {
            "depot": depot,
            "basis": basis,
            "wall": wall([depot], basis),
            "holds": RoadHold.objects.standing().at_depots(here).select_related("truck", "door"),
            "visits": Visit.objects.filter(depot=depot)
            .round_of(basis.today)
            .with_links()[:VISITS_SHOWN],
            "shown_at": now,
            "seconds": SECONDS_BETWEEN,
        }
        return render(request, "analytics/wall_screen.html", context)
