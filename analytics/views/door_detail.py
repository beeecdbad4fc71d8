"""A door's page, and the way to it from a truck's number."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from analytics.reports.basis import basis_in
from analytics.reports.door_page import door_page
from analytics.reports.evidence import rate_note
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Mounting, Role, Truck
from fleetdoors.views.addresses import door_address
from inspections.views.place import Place, at_door


@open_to()
@at_door
def door_detail(request: SignedInRequest, place: Place) -> HttpResponse:
    """Who the door is, how its tasks stand, and everything on record behind that."""
    now = timezone.now()
    basis = basis_in(place.zone, now=now)
    is_whole = "whole" in request.GET
    page = door_page(place, basis, now=now, is_whole=is_whole)
    context = {
        "place": place,
        "basis": basis,
        "page": page,
        "rate_words": rate_note(page.figures) if page.figures else "",
        "is_whole": is_whole,
        "now": now,
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "analytics/door_detail.html", context)


@open_to()
def truck_detail(request: SignedInRequest, truck: str) -> HttpResponse:
    """To the page of the door that is on the truck."""
    seen = get_object_or_404(Truck.objects.visible_to(request.user), fleet_number=truck)
    mounting = get_object_or_404(Mounting.objects.open().select_related("door"), truck=seen)
    return redirect(door_address(mounting.door.serial))
