"""How good the forecasts of past dates were, and asking for a new check."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from analytics.checking.running import running_check, start_checking
from analytics.reports.forecast_record import forecast_record as report_of
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER, Role.BUYER)
def forecast_record(request: SignedInRequest) -> HttpResponse:
    """Shares inside their ranges and errors against naive methods, by depot and part."""
    context = {
        "page": report_of(depot_ids_of(request.user)),
        "running": running_check(timezone.now()),
        "may_check": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/forecast_record.html", context)


@open_to(Role.PLANNER)
@require_POST
def check_forecasts(_request: SignedInRequest) -> HttpResponse:
    """Start a check, and go where its progress is shown."""
    start_checking(now=timezone.now())
    return redirect("forecast-check")


@open_to(Role.PLANNER, Role.BUYER)
def forecast_check(request: SignedInRequest) -> HttpResponse:
    """How far the check is: a page, and the fragment that keeps asking."""
    context = {"running": running_check(timezone.now())}
    name = "_forecast_check" if request.htmx else "forecast_check"
    return render(request, f"analytics/{name}.html", context)
