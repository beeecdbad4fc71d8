"""Pages on which a door is inspected, and what came of it."""

from __future__ import annotations

from typing import cast

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.templatetags.units import figure, measured, unit_shown
from inspections.forms.inspection import InspectionForm
from inspections.models import (
    Fault,
    FollowUp,
    Inspection,
    InspectionKind,
    Judgement,
    Measurement,
    Visit,
    VisitState,
)
from inspections.quantities import QUANTITIES, Quantity
from inspections.services.inspecting import (
    InspectionRefusedError,
    doubts_about,
    record_inspection,
)
from inspections.symptoms import cautions_in_order, gravest_first
from inspections.views.at_truck import of_door
from inspections.views.place import Place, at_door

WORST_FIRST = (Judgement.PAST, Judgement.NEAR, Judgement.HOLDS, Judgement.NO_LIMIT)
ALWAYS = ("C6", "C2", "C4", "C10")


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def inspection_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Look, measure, and say what is not as it should be."""
    initial = {
        "kind": InspectionKind.ROUTINE,
        "inspector": str(request.user),
        "begun_at": timezone.now(),
    }
    form = InspectionForm(request.POST or None, initial=initial)
    doubts: list[str] = []
    if form.is_valid():
        doubts = [] if form.cleaned_data["is_confirmed"] else _doubts(place, form)
        inspection = None if doubts else _record(request, place, form)
        if inspection:
            return redirect("inspection-detail", inspection.pk)
    context = {
        "form": form,
        "place": place,
        "doubts": doubts,
        "cautions": cautions_in_order(ALWAYS),
        "visit": _open_visit(place),
    }
    return render(request, "inspections/inspection_new.html", context)


@open_to()
@of_door(Inspection)
def inspection_detail(
    request: SignedInRequest, inspection: Inspection, place: Place
) -> HttpResponse:
    """Each value beside its limit and where that is from, and what a value past it opened."""
    kept = inspection.measurements.in_force().select_related("corrects", "entered_by")
    measurements = list(kept.order_by("pk"))
    measurements.sort(key=lambda each: WORST_FIRST.index(each.judgement))
    past = [each for each in measurements if each.judgement == Judgement.PAST]
    codes = [code for each in past for code in QUANTITIES[each.quantity].cautions]
    context = {
        "inspection": inspection,
        "place": place,
        "rows": [_row(each) for each in measurements],
        "cautions": gravest_first(cautions_in_order(dict.fromkeys(codes))),
        "follow_ups": FollowUp.objects.filter(measurement__inspection=inspection).select_related(
            "task", "task_done__task"
        ),
        "faults": Fault.objects.unrepaired().filter(door=place.door, found_at=inspection.begun_at),
        "is_past": bool(past),
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "inspections/inspection_detail.html", context)


def _row(measurement: Measurement) -> dict[str, object]:
    """A measurement with its quantity and limits in words; a grade has no other limit."""
    quantity = QUANTITIES[measurement.quantity]
    grade = dict(quantity.grades).get(measurement.value, "")
    before = cast("Measurement | None", measurement.corrects)
    return {
        "measurement": measurement,
        "quantity": quantity,
        "grade": grade,
        "limits": "" if grade else _limits_in_words(measurement, quantity.unit),
        "before": before,
        "before_words": _value_in_words(before, quantity) if before else "",
    }


def _value_in_words(measurement: Measurement, quantity: Quantity) -> str:
    grade = dict(quantity.grades).get(measurement.value)
    return str(grade) if grade else measured(measurement.value, quantity.unit, 2)


def _limits_in_words(measurement: Measurement, unit: str) -> str:
    low, high = measurement.limit_low, measurement.limit_high
    facts = {
        "low": figure(low, unit, 2),
        "high": figure(high, unit, 2),
        "unit": unit_shown(unit),
    }
    if low is not None and high is not None:
        return _("limits %(low)s and %(high)s %(unit)s") % facts
    if low is not None:
        return _("limit %(low)s %(unit)s below") % facts
    return _("limit %(high)s %(unit)s above") % facts if high is not None else ""


def _doubts(place: Place, form: InspectionForm) -> list[str]:
    return doubts_about(door=place.door, values=form.values())


def _open_visit(place: Place) -> Visit | None:
    return Visit.objects.filter(door=place.door, state=VisitState.OPEN).first()


def _record(request: SignedInRequest, place: Place, form: InspectionForm) -> Inspection | None:
    """The inspection kept, or None with the form saying why not."""
    try:
        return record_inspection(
            door=place.door,
            facts=form.facts(),
            values=form.values(),
            visit=_open_visit(place),
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except InspectionRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
    return None
