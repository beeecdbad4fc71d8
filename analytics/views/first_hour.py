"""What to do first with a new database."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from analytics.reports import first_hour
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER)
def begin(request: SignedInRequest) -> HttpResponse:
    """The steps, done and not done."""
    context = {"first_hour": first_hour.first_hour(request.user)}
    return render(request, "analytics/first_hour.html", context)
