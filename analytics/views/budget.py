"""What parts will cost: the page, and the same as a workbook."""

from __future__ import annotations

from io import BytesIO

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.reports.basis import basis_at
from analytics.reports.budget import budget_of
from analytics.reports.scope import depot_ids_of
from analytics.tables.budget_sheet import write_budget
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@open_to(Role.PLANNER, Role.BUYER)
def budget(request: SignedInRequest) -> HttpResponse:
    """The next four quarters, by part and by depot."""
    depot_ids = depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    context = {
        "basis": basis,
        "budget": budget_of(depot_ids, basis),
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/budget.html", context)


@open_to(Role.PLANNER, Role.BUYER)
def budget_workbook(request: SignedInRequest) -> HttpResponse:
    """The same figures, to be worked on."""
    depot_ids = depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    file = BytesIO()
    write_budget(file, budget_of(depot_ids, basis))
    answer = HttpResponse(file.getvalue(), content_type=WORKBOOK)
    answer["Content-Disposition"] = f'attachment; filename="parts-budget-{basis.today}.xlsx"'
    return answer
