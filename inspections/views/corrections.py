"""Pages on which what was entered on a visit is corrected; the earlier entry stays beside it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Part, Role
from inspections.forms.correction import MeasurementForm, PartUsedForm
from inspections.models import Measurement, PartUsed
from inspections.quantities import QUANTITIES
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.findings import Correction
from inspections.services.fitting import parts_for
from inspections.services.inspecting import InspectionRefusedError, doubts_about
from inspections.services.measuring_again import correct_measurement
from inspections.services.parts_used import correct_part_used
from inspections.services.taking_back import fitting_written_with, take_back_use
from inspections.views.onward import onward
from inspections.views.place import Place, at_row


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_row(Measurement)
def measurement_correct(
    request: SignedInRequest, measurement: Measurement, place: Place
) -> HttpResponse:
    """Another value in a measurement's place, judged by the limits kept with it."""
    form = MeasurementForm(request.POST or None, measurement=measurement)
    doubts: list[str] = []
    if form.is_valid():
        value = form.cleaned_data["value"]
        if not form.cleaned_data["is_confirmed"]:
            doubts = doubts_about(door=place.door, values={measurement.quantity: value})
        if not doubts and _measured_again(request, measurement, form):
            return redirect(_after(measurement, place))
    history = history_of(measurement)
    context = {
        "form": form,
        "place": place,
        "measurement": measurement,
        "quantity": QUANTITIES[measurement.quantity],
        "history": history,
        "doubts": doubts,
        "back": _after(measurement, place),
    }
    return render(request, "inspections/measurement_correct.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_row(PartUsed)
def part_used_correct(request: SignedInRequest, used: PartUsed, place: Place) -> HttpResponse:
    """Another part or quantity in the place of one, or none at all."""
    parts = parts_for(place.door.door_model) | Part.objects.filter(pk=used.part_id).distinct()
    initial = {"part": used.part_id, "quantity": used.quantity}
    form = PartUsedForm(request.POST or None, parts=parts, initial=initial)
    if form.is_valid() and _use_corrected(request, used, form):
        messages.success(request, _("Corrected; the earlier entry is kept beside it."))
        return redirect(onward(request, place.url))
    context = {
        "form": form,
        "place": place,
        "used": used,
        "history": history_of(used),
        "fitting": fitting_written_with(used),
    }
    return render(request, "inspections/part_used_correct.html", context)


def _measured_again(
    request: SignedInRequest, measurement: Measurement, form: MeasurementForm
) -> bool:
    """Whether the correction is on record; if not, the form says why."""
    try:
        corrected = correct_measurement(
            measurement=measurement,
            value=form.cleaned_data["value"],
            correction=_correction(request, form.cleaned_data["reason"]),
        )
    except InspectionRefusedError as refused:
        form.add_error("value", str(refused))
        return False
    except CorrectionRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(
        request,
        _("Corrected: it is now “%(judgement)s”. The earlier entry is kept beside it.")
        % {"judgement": corrected.get_judgement_display()},
    )
    if QUANTITIES[measurement.quantity].consequence.hold:
        messages.warning(request, _("A hold that stands is lifted by a named person only."))
    return True


def _use_corrected(request: SignedInRequest, used: PartUsed, form: PartUsedForm) -> bool:
    """Whether the correction is on record; if not, the form says why."""
    correction = _correction(request, form.cleaned_data["reason"])
    part, quantity = form.cleaned_data["part"], form.cleaned_data["quantity"]
    try:
        if quantity:
            correct_part_used(used=used, part=part, quantity=quantity, correction=correction)
        else:
            take_back_use(used=used, correction=correction)
    except CorrectionRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    return True


def _correction(request: SignedInRequest, reason: str) -> Correction:
    return Correction(reason=reason, entered_at=timezone.now(), entered_by=request.user)


def _after(measurement: Measurement, place: Place) -> str:
    """Where a measurement is shown."""
    if measurement.inspection_id is None:
        return place.url
    return reverse("inspection-detail", args=[measurement.inspection_id])
