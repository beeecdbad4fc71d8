"""Pages on which a fault is recorded, shown and corrected."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Caution, Component, Part, Role
from inspections.codes import Complaint
from inspections.forms.fault import BasePartRows, FaultCorrectionForm, FaultForm, PartRows
from inspections.forms.fields import same_minute
from inspections.models import Fault, FaultTrace, PartUsed
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.faults import (
    FaultFacts,
    FaultRefusedError,
    correct_fault,
    record_fault,
)
from inspections.services.fitting import FittingRefusedError, parts_for
from inspections.services.tracing import close_trace, position_of
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
        initial={"found_at": timezone.now(), **_asked(request)},
    )
    trace = _trace_behind(request, place)
    parts = parts_for(place.door.door_model)
    rows = PartRows(request.POST or None, parts=parts, initial=_proposed(trace, parts))
    if form.is_valid() and rows.is_valid():
        fault = _record(request, place, form, rows)
        if fault:
            if trace:
                close_trace(trace=trace, fault=fault, closed_at=timezone.now())
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
    """What the page before, or around a fragment, has chosen so far."""
    asked = {"complaint": _asked_complaint(request)}
    return asked | {name: request.GET.get(name, "") for name in ("component", "mode", "action")}


def _trace_behind(request: HttpRequest, place: Place) -> FaultTrace | None:
    """The trace whose verdict is being written down, where the address names one of the door."""
    asked = request.GET.get("trace", "")
    key = int(asked) if asked.isascii() and asked.isdecimal() else 0
    return place.door.traces.filter(pk=key, fault=None).first()


def _proposed(trace: FaultTrace | None, parts: QuerySet[Part]) -> list[dict[str, object]]:
    """Rows filled in with what the verdict proposes, to be looked over."""
    if trace is None:
        return []
    wanted = position_of(trace).components
    by_component: dict[str, Part] = {}
    for part in parts.filter(component__code__in=wanted):
        by_component.setdefault(part.component.code if part.component else "", part)
    return [{"part": str(part.pk), "quantity": 1} for part in by_component.values()]


def _cautions(form: FaultForm) -> list[Caution]:
    component = form.components.get(form["component"].value() or "")
    complaint = form["complaint"].value() or ""
    return cautions_in_order(caution_codes(complaint=complaint, component=component))


def _positions(place: Place) -> list[str]:
    fitted = place.door.fitments.in_place().exclude(position="")
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
