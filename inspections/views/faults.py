"""Pages on which a fault is recorded, shown and corrected."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Caution, Component, Role
from inspections.codes import Complaint
from inspections.forms.fault import BasePartRows, FaultCorrectionForm, FaultForm, PartRows
from inspections.forms.fields import same_minute
from inspections.models import Fault, PartUsed
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.faults import (
    FaultFacts,
    FaultRefusedError,
    correct_fault,
    record_fault,
)
from inspections.services.fitting import FittingRefusedError, parts_for
from inspections.symptoms import COMPLAINT_GROUPS, caution_codes, cautions_in_order
from inspections.views.place import Place, at_door, at_row

RECENT = timedelta(days=7)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def fault_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Record a fault: first what the driver said, then what it was and what it took."""
    if request.method == "GET" and "complaint" not in request.GET:
        return _choose_complaint(request, place)
    form = FaultForm(
        request.POST or None,
        components=Component.objects.order_by("name"),
        initial={"found_at": timezone.now(), "complaint": _asked_complaint(request)},
    )
    rows = PartRows(request.POST or None, parts=parts_for(place.door.door_model))
    if form.is_valid() and rows.is_valid():
        fault = _record(request, place, form, rows)
        if fault:
            return redirect("fault-detail", fault.pk)
    context = {
        "form": form,
        "rows": rows,
        "place": place,
        "cautions": _cautions(form),
        "positions": _positions(place),
    }
    return render(request, "inspections/fault_new.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
def fault_advice(request: SignedInRequest) -> HttpResponse:
    """Fragment: the failure modes of the component chosen, and the cautions that go with it."""
    form = FaultForm(None, components=Component.objects.order_by("name"), initial=_asked(request))
    context = {"form": form, "cautions": _cautions(form)}
    return render(request, "inspections/_fault_advice.html", context)


@open_to()
@at_row(Fault)
def fault_detail(request: SignedInRequest, fault: Fault, place: Place) -> HttpResponse:
    """A fault as recorded, what it corrected, and the cautions that go with it."""
    codes = caution_codes(complaint=fault.complaint, component=fault.component)
    context = {
        "fault": fault,
        "place": place,
        "history": history_of(fault),
        "parts_used": PartUsed.objects.used_with(fault),
        "cautions": cautions_in_order(codes),
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "inspections/fault_detail.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_row(Fault)
def fault_correct(request: SignedInRequest, fault: Fault, place: Place) -> HttpResponse:
    """Put another account in a fault's place."""
    form = FaultCorrectionForm(
        request.POST or None,
        components=Component.objects.order_by("name"),
        initial={**_as_typed(fault), "reason": ""},
    )
    if form.is_valid():
        corrected = _correct(request, fault, form)
        if corrected:
            return redirect("fault-detail", corrected.pk)
    context = {"form": form, "fault": fault, "place": place, "cautions": _cautions(form)}
    return render(request, "inspections/fault_correct.html", context)


def _choose_complaint(request: HttpRequest, place: Place) -> HttpResponse:
    context = {
        "groups": COMPLAINT_GROUPS,
        "place": place,
        "recent": Fault.objects.filter(door=place.door)
        .found_since(timezone.now() - RECENT)
        .select_related("component"),
    }
    return render(request, "inspections/fault_complaint.html", context)


def _asked_complaint(request: HttpRequest) -> str:
    asked = request.GET.get("complaint", "")
    return asked if asked in Complaint.values else ""


def _asked(request: HttpRequest) -> dict[str, str]:
    """What the page around a fragment has chosen so far."""
    component = request.GET.get("component", "")
    return {"complaint": _asked_complaint(request), "component": component}


def _cautions(form: FaultForm) -> list[Caution]:
    component = form.components.get(form["component"].value() or "")
    complaint = form["complaint"].value() or ""
    return cautions_in_order(caution_codes(complaint=complaint, component=component))


def _positions(place: Place) -> list[str]:
    fitted = place.door.fitments.filter(removal="").exclude(position="")
    return list(fitted.order_by("position").values_list("position", flat=True).distinct())


def _record(
    request: SignedInRequest, place: Place, form: FaultForm, rows: BasePartRows
) -> Fault | None:
    """The fault kept, or None with the form saying why not."""
    try:
        return record_fault(
            door=place.door,
            facts=form.facts(),
            parts=rows.uses(),
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except FaultRefusedError as error:
        form.add_error(error.field if error.field in form.fields else None, str(error))
    except FittingRefusedError as error:
        form.add_error(None, str(error))
    return None


def _correct(request: SignedInRequest, fault: Fault, form: FaultCorrectionForm) -> Fault | None:
    """The account that stands in the old one's place, or None with the form saying why not."""
    try:
        return correct_fault(
            fault=fault,
            facts=_with_seconds(form.facts(), fault),
            reason=form.cleaned_data["reason"],
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except FaultRefusedError as error:
        form.add_error(error.field if error.field in form.fields else None, str(error))
    except CorrectionRefusedError as error:
        form.add_error(None, str(error))
    return None


def _with_seconds(facts: FaultFacts, fault: Fault) -> FaultFacts:
    """The facts with the fault's own moment where the form gave it back unchanged."""
    return FaultFacts(**{**vars(facts), "found_at": same_minute(facts.found_at, fault.found_at)})


def _as_typed(fault: Fault) -> dict[str, object]:
    """The fault as the form would have been filled in for it."""
    return {
        "complaint": fault.complaint,
        "component": fault.component.code if fault.component else "",
        "mode": fault.mode,
        "is_failure": fault.is_failure,
        "action": fault.action,
        "detected_by": fault.detected_by,
        "found_at": fault.found_at,
        "off_road_from": fault.off_road_from,
        "off_road_until": fault.off_road_until,
        "at_cycles": fault.at_cycles,
        "note": fault.note,
    }
