"""The box in the shell: from a truck or door number to the door's page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.services.finding import find_trucks_and_doors
from fleetdoors.views.addresses import door_address


@open_to()
def jump(request: SignedInRequest) -> HttpResponse:
    """Straight to the one called exactly so; otherwise those that could be meant.

    Half a number never opens a door by itself: the wrong truck is easily picked in a yard.
    """
    typed = request.GET.get("q", "").strip()[:80]
    found = find_trucks_and_doors(user=request.user, typed=typed)
    if len(found.exact) == 1 and found.exact[0].door:
        return redirect(door_address(found.exact[0].door))
    choices = [
        {"match": match, "url": door_address(match.door) if match.door else ""}
        for match in (*found.exact, *found.similar)
    ]
    context = {"typed": typed, "choices": choices, "is_cut_short": found.is_cut_short}
    return render(request, "fleetdoors/jump.html", context)
