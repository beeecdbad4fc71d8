"""The catalogue of preventive tasks: looked at, changed with a preview, and put back."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from analytics.forms.look_costs import LookCostsForm
from analytics.forms.task_sheet import NewTaskForm, TaskSheetForm
from analytics.reports.basis import Basis, basis_at
from analytics.reports.look_advice import look_advice
from analytics.reports.scope import depot_ids_of
from analytics.reports.task_catalogue import task_rows
from analytics.reports.task_evidence import evidence_by_task
from analytics.reports.task_history import history
from analytics.reports.task_preview import preview_change
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import MaintenanceTask, Role, TaskChange, User
from fleetdoors.services.task_catalogue import (
    CatalogueError,
    add_task,
    change_task,
    undo_change,
)
from fleetdoors.services.task_sheet import sheet_of


def _basis(user: User) -> Basis:
    return basis_at(depot_ids_of(user), now=timezone.now())


def _may_change(user: User) -> bool:
    """The catalogue is the whole fleet's: who sees some depots only may look and try."""
    return user.has_any_role(Role.PLANNER) and depot_ids_of(user) is None


def _refuse_others(user: User) -> None:
    if not _may_change(user):
        raise PermissionDenied(
            _("The catalogue holds for every depot. You see some of them, so you cannot change it.")
        )


@open_to(Role.PLANNER)
def task_list(request: SignedInRequest) -> HttpResponse:
    """Every task, what it takes and what it found; and what was changed of late."""
    basis = _basis(request.user)
    context = {
        "basis": basis,
        "rows": task_rows(basis.run, depot_ids_of(request.user)),
        "history": history(),
        "may_change": _may_change(request.user),
        "may_recompute": True,
    }
    return render(request, "analytics/task_list.html", context)


@open_to(Role.PLANNER)
def task_detail(request: SignedInRequest, code: str) -> HttpResponse:
    """One task's sheet: tried out by a preview, then saved with a reason."""
    task = get_object_or_404(MaintenanceTask, code=code)
    typed = request.POST if request.method == "POST" else None
    may_change = _may_change(request.user)
    form = TaskSheetForm(typed, code=code, sheet=sheet_of(task), can_save=may_change)
    if typed is not None and form.is_valid() and "save" in typed and _is_saved(request, form, task):
        return redirect("task-detail", code=code)
    return _page(request, form, task=task, code=code)


@open_to(Role.PLANNER)
def task_new(request: SignedInRequest) -> HttpResponse:
    """A task that the catalogue does not hold yet."""
    typed = request.POST if request.method == "POST" else None
    form = NewTaskForm(typed, code="", sheet=None, can_save=_may_change(request.user))
    is_valid = typed is not None and form.is_valid()
    code = form.cleaned_data["task_code"] if is_valid else ""
    if is_valid and "save" in request.POST and _is_saved(request, form, None):
        return redirect("task-detail", code=code)
    return _page(request, form, task=None, code=code)


def _is_saved(request: SignedInRequest, form: TaskSheetForm, task: MaintenanceTask | None) -> bool:
    """Whether the change stands; what forbids it is said on the form."""
    _refuse_others(request.user)
    reason = form.cleaned_data["reason"]
    if not reason:
        form.add_error("reason", _("Say why: whoever asks later will find it in the history."))
        return False
    now: dict[str, Any] = {"by": request.user, "at": timezone.now(), "reason": reason}
    try:
        if task is None:
            add_task(code=form.cleaned_data["task_code"], sheet=form.sheet(), **now)
        else:
            change_task(task=task, sheet=form.sheet(), **now)
    except CatalogueError as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, _("Saved. Due dates are worked out anew."))
    return True


def _page(
    request: SignedInRequest, form: TaskSheetForm, *, task: MaintenanceTask | None, code: str
) -> HttpResponse:
    basis, depot_ids = _basis(request.user), depot_ids_of(request.user)
    is_tried = form.is_bound and not form.errors
    costs = LookCostsForm(request.GET)
    context = {
        "form": form,
        "task": task,
        "basis": basis,
        "preview": preview_change(basis.run, depot_ids, code, form.sheet()) if is_tried else None,
        "evidence": evidence_by_task().get(code),
        "costs": costs,
        "looks": look_advice(code, costs.costs()) if task else None,
        "ignored": costs.ignored(),
        "history": history(task) if task else [],
        "may_change": _may_change(request.user),
        "may_recompute": True,
    }
    return render(request, "analytics/task_detail.html", context)


@open_to(Role.PLANNER)
@require_POST
def task_change_undo(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put back what stood before a change; the undo is a change of its own."""
    change = get_object_or_404(TaskChange.objects.select_related("task"), pk=pk)
    _refuse_others(request.user)
    reason = _("undoes the change of %(day)s") % {"day": f"{change.changed_at:%Y-%m-%d}"}
    try:
        undo_change(change=change, by=request.user, at=timezone.now(), reason=reason)
    except CatalogueError as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Put back. Due dates are worked out anew."))
    return redirect("task-detail", code=change.task.code)
