"""The page on which a part fitted or taken off by mistake is taken back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Fitment, Role
from inspections.forms.taking_back import FitmentBackForm
from inspections.services.findings import Correction
from inspections.services.taking_back import (
    life_before,
    may_be_in_place_still,
    take_back_fitting,
    take_back_removal,
    use_written_with,
)
from inspections.views.at_truck import of_door
from inspections.views.carrying_out import carried_out
from inspections.views.onward import onward
from inspections.views.place import Place


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Fitment)
def fitment_back(request: SignedInRequest, fitment: Fitment, place: Place) -> HttpResponse:
    """Ask what was wrong about a fitted part and why; the life before goes on."""
    may_be_in_place = may_be_in_place_still(fitment)
    used = use_written_with(fitment)
    form = FitmentBackForm(request.POST or None, may_be_in_place=may_be_in_place, used=used)
    if form.is_valid() and carried_out(form, lambda: _take_back(request, fitment, form)):
        messages.success(request, _("Taken back. What was written stays on record, struck out."))
        return redirect(onward(request, place.url))
    context = {
        "form": form,
        "place": place,
        "fitment": fitment,
        "before": life_before(fitment),
        "used": used,
        "may_be_in_place": may_be_in_place,
    }
    return render(request, "inspections/fitment_back.html", context)


def _take_back(request: SignedInRequest, fitment: Fitment, form: FitmentBackForm) -> object:
    correction = Correction(
        reason=form.cleaned_data["reason"], entered_at=timezone.now(), entered_by=request.user
    )
    if form.is_removal:
        return take_back_removal(fitment=fitment, correction=correction)
    return take_back_fitting(fitment=fitment, pieces_back=form.pieces(), correction=correction)
