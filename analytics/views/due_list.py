"""What is due: the list, and the evidence behind one row."""

from __future__ import annotations

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import ngettext
from django_tables2 import RequestConfig

from analytics.forms.due_filter import DueFilterForm
from analytics.reports.basis import basis_for, basis_in
from analytics.reports.due_page import due_tasks
from analytics.reports.scope import depot_ids_of
from analytics.reports.why_page import due_task_of, strongest_first, why_due
from analytics.tables.due import DueTable
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import DoorUnit, MaintenanceTask, Role
from fleetdoors.paging import ShortPaginator
from inspections.views.place import Place, at_door

ROWS_A_PAGE = 50


@open_to()
def due_list(request: SignedInRequest) -> HttpResponse:
    """Every task of every door in sight, with its filters kept in the address."""
    form, depot_ids = DueFilterForm(request.GET, user=request.user), depot_ids_of(request.user)
    choice = form.choice()
    basis = basis_for(depot_ids, choice.depot_id, now=timezone.now())
    table = DueTable(due_tasks(choice, depot_ids, basis), basis=basis)
    pages = {"per_page": ROWS_A_PAGE, "silent": True, "paginator_class": ShortPaginator}
    RequestConfig(request, paginate=pages).configure(table)
    table.fetch_figures()
    context = {
        "table": table,
        "form": form,
        "basis": basis,
        "result": _result(table.page.paginator, form),
        "clear_url": "" if form.is_empty else reverse("due-list"),
        "query": request.GET.urlencode(),
        "has_doors": DoorUnit.objects.visible_to(request.user).exists(),
        "may_import": request.user.has_any_role(Role.PLANNER),
        "may_recompute": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "analytics/due_list.html", context)


def _result(pages: ShortPaginator, form: DueFilterForm) -> str:
    counted = ngettext("%(count)s task", "%(count)s tasks", pages.count)
    counted %= {"count": capfirst(pages.of_how_many)}
    return f"{counted}. {form.ignored()}".strip()


@open_to()
def due_why(request: SignedInRequest, door: str, task: str) -> HttpResponse:
    """Why a task is due on a door when it is: readings, rate, factors, formula, cautions."""
    listed = get_object_or_404(MaintenanceTask.objects.prefetch_related("cautions"), code=task)
    return at_door(partial(_why, task=listed))(request, door)


def _why(request: SignedInRequest, place: Place, *, task: MaintenanceTask) -> HttpResponse:
    now = timezone.now()
    basis = basis_in(place.zone, now=now)
    row = due_task_of(place.door, task, basis)
    context = {
        "place": place,
        "task": task,
        "basis": basis,
        "why": why_due(row, basis, now=now) if row else None,
        "cautions": strongest_first(task.cautions.all()),
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "analytics/due_why.html", context)
