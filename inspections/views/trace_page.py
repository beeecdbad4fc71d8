"""A fault trace that the phone walks by itself, with or without a signal."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.services.trace_on_phone import trace_facts, words
from inspections.symptoms import COMPLAINT_GROUPS
from inspections.views.place import Place, at_door
from inspections.views.trace_facts import MODE_OF_VERDICT


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def round_trace(request: SignedInRequest, place: Place) -> HttpResponse:
    """One question at a time; each answer goes through the phone's outbox."""
    facts = trace_facts(place.door) | {
        "tree": reverse("round-tree"),
        "fault": reverse("fault-new", args=[place.door.serial]),
        "modes": MODE_OF_VERDICT,
        "words": words(),
    }
    context = {"place": place, "facts": facts, "groups": COMPLAINT_GROUPS}
    return render(request, "inspections/round_trace.html", context)
