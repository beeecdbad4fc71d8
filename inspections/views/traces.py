"""Pages that find a fault: one question a screen, then the verdict with its proposals."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Component, Role
from inspections.codes import Complaint, DetectedBy
from inspections.forms.trace import answer_from
from inspections.models import FaultTrace, Visit, VisitState
from inspections.services.faults import FaultFacts, record_fault
from inspections.services.tracing import (
    TraceRefusedError,
    answer_question,
    begin_trace,
    close_trace,
    position_of,
    take_back_answer,
)
from inspections.services.visits import Jobs, add_jobs
from inspections.symptoms import COMPLAINT_GROUPS
from inspections.views.at_truck import of_door
from inspections.views.place import Place, at_door
from inspections.views.trace_facts import MODE_OF_VERDICT, trace_facts


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def trace_begin(request: SignedInRequest, place: Place) -> HttpResponse:
    """Choose the symptom; a search that is open for it is gone on with."""
    visit = Visit.objects.filter(door=place.door, state=VisitState.OPEN).first()
    symptom = request.POST.get("symptom", "")
    if request.method == "POST" and symptom in Complaint.values:
        trace = begin_trace(
            door=place.door,
            symptom=symptom,
            engine_running="engine_running" in request.POST,
            begun_at=timezone.now(),
            entered_at=timezone.now(),
            begun_by=request.user,
            visit=visit,
        )
        return redirect("trace", trace.pk)
    context = {"place": place, "groups": COMPLAINT_GROUPS, "visit": visit}
    return render(request, "inspections/trace_begin.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(FaultTrace)
def trace_page(request: SignedInRequest, trace: FaultTrace, place: Place) -> HttpResponse:
    """The question now, or the verdict; beside it how likely each cause is."""
    facts = trace_facts(trace, request.GET.get("node", ""))
    context = {"trace": trace, "place": place, **facts}
    return render(request, "inspections/trace.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(FaultTrace)
def trace_answer(request: SignedInRequest, trace: FaultTrace, _place: Place) -> HttpResponse:
    """Keep an answer and go on to what it leads to."""
    node = request.POST.get("node", "")
    sequence = request.POST.get("sequence", "")
    try:
        answer_question(
            trace=trace,
            answer=answer_from(request.POST),
            sequence=int(sequence) if sequence.isascii() and sequence.isdecimal() else 0,
            answered_at=timezone.now(),
            entered_at=timezone.now(),
            answered_by=request.user,
        )
    except (TraceRefusedError, ValueError) as refused:
        messages.error(request, str(refused))
        return redirect(f"{reverse('trace', args=[trace.pk])}?{urlencode({'node': node})}")
    return redirect("trace", trace.pk)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(FaultTrace)
def trace_undo(request: SignedInRequest, trace: FaultTrace, _place: Place) -> HttpResponse:
    """Take the last answer back."""
    try:
        take_back_answer(trace=trace, taken_back_at=timezone.now())
    except TraceRefusedError as refused:
        messages.error(request, str(refused))
    return redirect("trace", trace.pk)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(FaultTrace)
def trace_fault(request: SignedInRequest, trace: FaultTrace, place: Place) -> HttpResponse:
    """Write the verdict down as a fault that the open visit closes, once."""
    visit = trace.visit
    if trace.fault_id or visit is None or visit.state != VisitState.OPEN or not trace.verdict:
        messages.error(request, _("There is nothing to write down here."))
        return redirect("trace", trace.pk)
    code = next(iter(position_of(trace).components), "")
    fault = record_fault(
        door=place.door,
        facts=FaultFacts(
            found_at=timezone.now(),
            complaint=trace.symptom,
            component=Component.objects.filter(code=code).first(),
            mode=MODE_OF_VERDICT.get(trace.verdict, ""),
            detected_by=DetectedBy.TECHNICIAN,
        ),
        parts=(),
        entered_at=timezone.now(),
        entered_by=request.user,
    )
    close_trace(trace=trace, fault=fault, closed_at=timezone.now())
    add_jobs(visit=visit, jobs=Jobs(faults=[fault]))
    return redirect("visit-detail", visit.pk)
