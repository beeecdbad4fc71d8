"""In what condition a door is."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.reports.basis import basis_in
from analytics.reports.condition_page import condition_page
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.views.place import Place, at_door


@open_to()
@at_door
def door_condition(request: SignedInRequest, place: Place) -> HttpResponse:
    """Each measured quantity over cycles, against the limits kept with the measurements."""
    now = timezone.now()
    context = {
        "place": place,
        "page": condition_page(place, basis_in(place.zone, now=now), now=now),
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "analytics/door_condition.html", context)
