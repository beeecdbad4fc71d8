"""The list of doors."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext
from django_tables2 import RequestConfig

from analytics.forms.door_filter import DoorFilterForm
from analytics.reports.basis import basis_at
from analytics.reports.doors_page import doors_chosen
from analytics.reports.scope import depot_ids_of
from analytics.tables.doors import DoorTable
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import DoorUnit, Role
from fleetdoors.templatetags.units import number

ROWS_A_PAGE = 50


@open_to()
def door_list(request: SignedInRequest) -> HttpResponse:
    """Every door in sight, with its filters kept in the address."""
    now = timezone.now()
    form = DoorFilterForm(request.GET, user=request.user)
    basis = basis_at(depot_ids_of(request.user), now=now)
    table = DoorTable(doors_chosen(form.choice(), request.user, basis), basis=basis, now=now)
    RequestConfig(request, paginate={"per_page": ROWS_A_PAGE, "silent": True}).configure(table)
    table.fetch_beside()
    count = table.page.paginator.count
    counted = ngettext("%(count)s door", "%(count)s doors", count) % {"count": number(count)}
    context = {
        "table": table,
        "form": form,
        "basis": basis,
        "result": f"{counted}. {form.ignored()}".strip(),
        "clear_url": "" if form.is_empty else reverse("door-list"),
        "has_doors": DoorUnit.objects.visible_to(request.user).exists(),
        "may_import": request.user.has_any_role(Role.PLANNER),
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/door_list.html", context)
