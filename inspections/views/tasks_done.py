"""Pages on which a preventive task done is recorded and corrected."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import MaintenanceTask, Role
from inspections.forms.fields import same_minute
from inspections.forms.task_done import TaskDoneCorrectionForm, TaskDoneForm
from inspections.models import TaskDone
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.tasks_done import (
    TaskDoneRefusedError,
    WorkDone,
    correct_task_done,
    record_task_done,
)
from inspections.symptoms import gravest_first
from inspections.views.onward import onward
from inspections.views.place import Place, at_door, at_row


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def task_done_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Record a preventive task done: first which, then when."""
    asked = request.GET.get("task", "")
    if not asked:
        context = {"place": place, "tasks": MaintenanceTask.objects.on_due_lists()}
        return render(request, "inspections/task_done_choose.html", context)
    task = get_object_or_404(MaintenanceTask.objects.prefetch_related("cautions"), code=asked)
    form = TaskDoneForm(
        request.POST or None, initial={"done_at": timezone.now(), "done_by": str(request.user)}
    )
    if form.is_valid() and _record(request, place, form.work(task), form):
        messages.success(
            request, _("%(task)s recorded on door %(door)s.") % {"task": task, "door": place.door}
        )
        return redirect(onward(request, place.url))
    context = {
        "form": form,
        "place": place,
        "task": task,
        "cautions": gravest_first(task.cautions.all()),
    }
    return render(request, "inspections/task_done_new.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_row(TaskDone)
def task_done_correct(request: SignedInRequest, done: TaskDone, place: Place) -> HttpResponse:
    """Put another entry in the place of one about work done."""
    initial = {
        "task": done.task_id,
        "done_at": done.done_at,
        "done_by": done.done_by,
        "at_cycles": done.at_cycles,
    }
    form = TaskDoneCorrectionForm(request.POST or None, initial=initial)
    if form.is_valid() and _correct(request, done, form):
        messages.success(request, _("Corrected; the earlier entry is kept beside it."))
        return redirect(onward(request, place.url))
    context = {"form": form, "place": place, "done": done, "history": history_of(done)}
    return render(request, "inspections/task_done_correct.html", context)


def _record(request: SignedInRequest, place: Place, work: WorkDone, form: TaskDoneForm) -> bool:
    """Whether the work is on record; if not, the form says why."""
    try:
        record_task_done(
            door=place.door, work=work, entered_at=timezone.now(), entered_by=request.user
        )
    except TaskDoneRefusedError as error:
        form.add_error(error.field, str(error))
        return False
    return True


def _correct(request: SignedInRequest, done: TaskDone, form: TaskDoneCorrectionForm) -> bool:
    """Whether the correction is on record; if not, the form says why."""
    work = form.work(form.cleaned_data["task"])
    kept = same_minute(work.done_at, done.done_at)
    try:
        correct_task_done(
            task_done=done,
            work=WorkDone(work.task, kept, work.at_cycles, work.done_by),
            reason=form.cleaned_data["reason"],
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except TaskDoneRefusedError as error:
        form.add_error(error.field, str(error))
        return False
    except CorrectionRefusedError as error:
        form.add_error(None, str(error))
        return False
    return True
