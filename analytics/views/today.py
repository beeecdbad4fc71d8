"""What needs somebody today: first what concerns the person who looks."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.reports.basis import basis_at
from analytics.reports.failing_parts import failing_parts
from analytics.reports.first_hour import first_hour
from analytics.reports.off_road import heading, off_road
from analytics.reports.scope import depot_ids_of
from analytics.reports.today_page import doubts, orders, overdue, weeks
from analytics.reports.wall import wall
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, DoorUnit, Role

# The sections by name of their template, in the order in which each person asks.
PLANNERS = ("off_road", "overdue", "week", "doubts", "orders", "wall")
SECTIONS = {
    Role.PLANNER: PLANNERS,
    Role.ADMINISTRATOR: PLANNERS,
    Role.TECHNICIAN: ("off_road", "overdue", "wall", "week", "doubts"),
    Role.BUYER: ("orders", "off_road", "doubts"),
}


@open_to()
def today(request: SignedInRequest) -> HttpResponse:
    """The day's questions, or, in an empty database, what to do first."""
    now, depot_ids = timezone.now(), depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=now)
    depots = list(Depot.objects.visible_to(request.user))
    has_doors = DoorUnit.objects.visible_to(request.user).exists()
    may_import = request.user.has_any_role(Role.PLANNER)
    out_of_use = off_road(request.user, now=now)
    context = {
        "first_hour": None if has_doors or not may_import else first_hour(request.user),
        "sections": [f"analytics/_today_{name}.html" for name in SECTIONS[Role(request.user.role)]],
        "basis": basis,
        "now": now,
        "has_doors": has_doors,
        "off_road": out_of_use,
        "off_road_heading": heading(out_of_use),
        "overdue": overdue(depot_ids, basis),
        "weeks": weeks(depots, basis),
        "doubts": doubts(depot_ids, basis),
        "orders": orders(depot_ids, basis),
        "failing": failing_parts(basis),
        "wall": wall(depots, basis),
        "may_import": may_import,
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/today.html", context)
