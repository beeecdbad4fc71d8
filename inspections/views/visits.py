"""Pages of visits: the day's round, the plan, the visit itself, and its small steps."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import MaintenanceTask, Role
from inspections.forms.visit import HandoverForm, NotPresentedForm, VisitPlanForm
from inspections.models import DefectReport, Fault, FollowUp, RoadHold, Visit, VisitState
from inspections.services.safety import TickRefusedError, set_tick, take_back_tick
from inspections.services.visits import (
    Jobs,
    VisitRefusedError,
    add_jobs,
    hand_over_visit,
    mark_not_presented,
    open_visit,
    plan_visit,
)
from inspections.views.at_truck import of_door
from inspections.views.place import Place, at_door
from inspections.views.visit_facts import JOBS_IN_WORDS, round_groups, visit_facts


@open_to(Role.TECHNICIAN, Role.PLANNER)
def visit_round(request: SignedInRequest) -> HttpResponse:
    """The visits to be done today, by depot and route, and what else asks for a person."""
    now = timezone.now()
    visits = Visit.objects.visible_to(request.user).round_at(now).with_links()
    holds = RoadHold.objects.standing().visible_to(request.user)
    context = {
        "day": timezone.localdate(now),
        "groups": round_groups(visits.prefetch_related(*JOBS_IN_WORDS), now),
        "holds": holds.count(),
        "reports": DefectReport.objects.visible_to(request.user).unanswered().count(),
    }
    return render(request, "inspections/round.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_detail(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """One visit: what to make ready, what to do, what is at hand."""
    context = {"visit": visit, "place": place, **visit_facts(visit)}
    return render(request, "inspections/visit_detail.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def visit_plan(request: SignedInRequest, place: Place) -> HttpResponse:
    """Plan a visit, or begin one at once."""
    offered = _offered(place)
    asked = MaintenanceTask.objects.filter(code__in=request.GET.getlist("task"))
    initial = {"planned_on": timezone.localdate(), "tasks": [task.pk for task in asked]}
    form = VisitPlanForm(request.POST or None, jobs=offered, depot=place.depot, initial=initial)
    if form.is_valid():
        visit = plan_visit(
            door=place.door,
            planned_on=form.cleaned_data["planned_on"],
            technician=form.cleaned_data["technician"],
            jobs=form.jobs(),
            entered_at=timezone.now(),
            entered_by=request.user,
        )
        return (
            _begin(request, visit)
            if "begin" in request.POST
            else redirect("visit-detail", visit.pk)
        )
    context = {"form": form, "place": place, "follow_ups": offered.follow_ups}
    return render(request, "inspections/visit_plan.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(Visit)
def visit_start(request: SignedInRequest, visit: Visit, _place: Place) -> HttpResponse:
    """Begin a planned visit."""
    return _begin(request, visit)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(Visit)
def visit_tick(request: SignedInRequest, visit: Visit, _place: Place) -> HttpResponse:
    """Set a safety tick, or skip it with a reason."""
    try:
        set_tick(
            visit=visit,
            tick=request.POST.get("tick", ""),
            ticked_at=timezone.now(),
            ticked_by=request.user,
            skipped_reason=request.POST.get("skipped_reason", "")[:200],
        )
    except TickRefusedError as refused:
        messages.error(request, str(refused))
    return redirect("visit-detail", visit.pk)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(Visit)
def visit_tick_back(request: SignedInRequest, visit: Visit, _place: Place) -> HttpResponse:
    """Take back a tick set by mistake."""
    try:
        take_back_tick(
            visit=visit,
            tick=request.POST.get("tick", ""),
            taken_back_at=timezone.now(),
            taken_back_by=request.user,
        )
    except TickRefusedError as refused:
        messages.error(request, str(refused))
    return redirect("visit-detail", visit.pk)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@of_door(Visit)
def visit_add_jobs(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Take up what stands open on the door: faults, findings, reports."""
    try:
        add_jobs(visit=visit, jobs=_offered(place))
    except VisitRefusedError as refused:
        messages.error(request, str(refused))
    return redirect("visit-detail", visit.pk)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_hand_over(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Pass an open visit to the next person."""
    form = HandoverForm(request.POST or None, holder=visit.technician, depot=place.depot)
    if form.is_valid():
        try:
            hand_over_visit(visit=visit, handed_at=timezone.now(), **form.cleaned_data)
        except VisitRefusedError as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            return redirect("round")
    context = {"form": form, "visit": visit, "place": place}
    return render(request, "inspections/visit_hand_over.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_absent(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Say that the truck did not come, and plan it again."""
    tomorrow = timezone.localdate() + timedelta(days=1)
    form = NotPresentedForm(request.POST or None, initial={"again_on": tomorrow})
    if form.is_valid():
        try:
            mark_not_presented(
                visit=visit,
                entered_at=timezone.now(),
                entered_by=request.user,
                **form.cleaned_data,
            )
        except VisitRefusedError as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            return redirect("round")
    context = {"form": form, "visit": visit, "place": place}
    return render(request, "inspections/visit_absent.html", context)


def _begin(request: SignedInRequest, visit: Visit) -> HttpResponse:
    """Open the visit, or go to the one that is open on the door."""
    try:
        open_visit(visit=visit, technician=request.user, started_at=timezone.now())
    except VisitRefusedError as refused:
        messages.error(request, str(refused))
        open_one = Visit.objects.filter(door=visit.door, state=VisitState.OPEN).first()
        visit = open_one or visit
    return redirect("visit-detail", visit.pk)


def _offered(place: Place) -> Jobs:
    """What stands open on the door."""
    door = place.door
    return Jobs(
        faults=list(Fault.objects.unrepaired().filter(door=door).select_related("component")),
        follow_ups=list(FollowUp.objects.open().filter(door=door).select_related("task")),
        defect_reports=list(DefectReport.objects.unanswered().filter(door=door)),
    )
