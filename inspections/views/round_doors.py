"""The doors that a technician has on the phone, and one of them at hand."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.reading import ReadingForm
from inspections.models import CounterReading, Visit
from inspections.services.round import last_jobs, limits_of_door, round_of
from inspections.views.place import Place, at_door


@open_to(Role.TECHNICIAN, Role.PLANNER)
def round_doors(request: SignedInRequest) -> HttpResponse:
    """Which doors are on the phone: those of today's visits first, then the depot's others."""
    context = {"round": round_of(person=request.user, as_of=timezone.now())}
    return render(request, "inspections/round_doors.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def round_door(request: SignedInRequest, place: Place) -> HttpResponse:
    """One door at hand: its counter to read, what was done here last, and its limits."""
    now = timezone.now()
    context = {
        "place": place,
        "form": ReadingForm(None, now=now, digits=place.counter_digits()),
        "latest": CounterReading.objects.accepted().filter(door=place.door).newest_first().first(),
        "jobs": last_jobs(place.door),
        "limits": limits_of_door(place.door, now),
        "visit": Visit.objects.filter(door=place.door).round_of(timezone.localdate(now)).first(),
    }
    return render(request, "inspections/round_door.html", context)
