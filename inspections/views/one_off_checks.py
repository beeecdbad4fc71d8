"""One-off checks: the list, one check with its doors, ticking off, closing."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import DoorUnit, Role
from inspections.forms.one_off_check import OneOffCheckForm, OneOffLookForm, WhyForm
from inspections.models import OneOffCheck, OneOffLook
from inspections.services.corrections import CorrectionRefusedError
from inspections.services.one_off_checks import (
    DoorLooked,
    OneOffRefusedError,
    close_check,
    doors_of_check,
    open_check,
    record_looks,
    take_look_back,
)


@open_to(Role.PLANNER, Role.TECHNICIAN)
def one_off_list(request: SignedInRequest) -> HttpResponse:
    """The checks that run, and those that were closed."""
    context = {
        "running": OneOffCheck.objects.open().select_related("door_model", "part"),
        "closed": OneOffCheck.objects.filter(closed_at__isnull=False).order_by("-closed_at")[:20],
        "may_open": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "inspections/one_off_list.html", context)


@open_to(Role.PLANNER)
def one_off_new(request: SignedInRequest) -> HttpResponse:
    """Begin a check."""
    form = OneOffCheckForm(request.POST or None)
    if form.is_valid():
        try:
            check = open_check(
                **form.cleaned_data, opened_at=timezone.now(), opened_by=request.user
            )
        except OneOffRefusedError as refused:
            form.add_error(None, str(refused))
        else:
            return redirect("one-off-check", check.pk)
    return render(request, "inspections/one_off_new.html", {"form": form})


@open_to(Role.PLANNER, Role.TECHNICIAN)
def one_off_check(request: SignedInRequest, pk: int) -> HttpResponse:
    """Who has had it, and who has not; the doors ticked are done."""
    check = get_object_or_404(OneOffCheck.objects.select_related("door_model", "part"), pk=pk)
    form = OneOffLookForm(request.POST or None, looked_by=str(request.user))
    rows = doors_of_check(check, DoorUnit.objects.visible_to(request.user))
    if request.method == "POST" and form.is_valid() and _tick(request, check, form, rows):
        return redirect("one-off-check", check.pk)
    context = {
        "check": check,
        "form": form,
        "missing": [row for row in rows if row.look is None],
        "had": [row for row in rows if row.look is not None],
        "may_close": request.user.has_any_role(Role.PLANNER) and check.closed_at is None,
        "why_form": WhyForm(),
    }
    return render(request, "inspections/one_off_check.html", context)


def _tick(
    request: SignedInRequest, check: OneOffCheck, form: OneOffLookForm, rows: list[DoorLooked]
) -> bool:
    """Whether doors were ticked off; if not, the form says why."""
    wanted = set(request.POST.getlist("door"))
    doors = [row.door for row in rows if row.door.serial in wanted]
    if not doors:
        form.add_error(None, _("No door is ticked."))
        return False
    now = timezone.now()
    try:
        count = record_looks(
            check=check,
            doors=doors,
            found=form.finding(),
            looked_at=now,
            entered_at=now,
            entered_by=request.user,
        )
    except OneOffRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    said = ngettext("%(n)d door ticked off.", "%(n)d doors ticked off.", count)
    messages.success(request, said % {"n": count})
    return True


@open_to(Role.PLANNER)
@require_POST
def one_off_close(request: SignedInRequest, pk: int) -> HttpResponse:
    """End the check."""
    check = get_object_or_404(OneOffCheck, pk=pk)

    def close(reason: str) -> None:
        close_check(check=check, reason=reason, closed_at=timezone.now())

    return _with_reason(request, check.pk, close)


@open_to(Role.PLANNER, Role.TECHNICIAN)
@require_POST
def one_off_look_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a tick back."""
    looks = OneOffLook.objects.filter(door__in=DoorUnit.objects.visible_to(request.user))
    look = get_object_or_404(looks, pk=pk)

    def take_back(reason: str) -> None:
        take_look_back(look=look, reason=reason, entered_at=timezone.now())

    return _with_reason(request, look.check_asked_id, take_back)


def _with_reason(request: SignedInRequest, check: int, do: Callable[[str], None]) -> HttpResponse:
    """Carry it out with the reason given, or say what is missing."""
    form = WhyForm(request.POST)
    try:
        do(form.cleaned_data["reason"] if form.is_valid() else "")
    except (OneOffRefusedError, CorrectionRefusedError) as refused:
        messages.error(request, f"{refused} {_('Nothing was changed.')}")
    return redirect("one-off-check", check)
