"""The page that asks why a visit was not done in its night."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.off_plan import OffPlanForm
from inspections.models import Visit
from inspections.services.off_plan import ReasonRefusedError, give_reason, how_it_came_out
from inspections.views.at_truck import of_door
from inspections.views.place import Place


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_off_plan(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Say, or say anew, why a visit was early, late, or did not take place."""
    last = visit.off_plan_reasons.in_force().first()
    initial = {"cause": last.cause, "note": last.note} if last else {"note": visit.reason}
    form = OffPlanForm(request.POST or None, initial=initial)
    if form.is_valid():
        try:
            give_reason(
                visit=visit,
                **form.cleaned_data,
                entered_at=timezone.now(),
                entered_by=request.user,
            )
        except ReasonRefusedError as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            messages.success(request, _("On record. The plan's scores count it."))
            return redirect("visit-detail", visit.pk)
    context = {"form": form, "visit": visit, "place": place, "kind": how_it_came_out(visit)}
    return render(request, "inspections/visit_off_plan.html", context)
