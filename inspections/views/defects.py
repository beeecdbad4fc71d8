"""Pages of drivers' reports and of holds, for those with an account."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.defect import DefectForm, HoldForm, LiftHoldForm, ReasonForm, StepForm
from inspections.models import Attachment, DefectReport, FollowUp, RoadHold
from inspections.services.defects import (
    NEXT_STEPS,
    DefectRefusedError,
    alike,
    take_step,
)
from inspections.services.follow_ups import FollowUpRefusedError, drop_follow_up
from inspections.services.holds import HoldRefusedError, lift_hold, place_hold
from inspections.symptoms import caution_codes, cautions_in_order
from inspections.views.at_truck import of_door
from inspections.views.place import Place, at_door
from inspections.views.reporting import kept_report

MOST = 50


@open_to(Role.TECHNICIAN, Role.PLANNER)
def defect_list(request: SignedInRequest) -> HttpResponse:
    """What keeps trucks, and the drivers' reports that wait for a person."""
    context = {
        "reports": DefectReport.objects.visible_to(request.user)
        .unanswered()
        .select_related("door", "truck__depot")[:MOST],
        "holds": RoadHold.objects.standing()
        .visible_to(request.user)
        .select_related("door", "truck__depot")[:MOST],
    }
    return render(request, "inspections/defect_list.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def defect_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Take down what a driver says, for the driver."""
    form = DefectForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        report = kept_report(place.door, form, reported_by=request.user)
        if report:
            return redirect("defect-detail", report.pk)
    return render(request, "inspections/defect_new.html", {"form": form, "place": place})


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(DefectReport)
def defect_detail(request: SignedInRequest, report: DefectReport, place: Place) -> HttpResponse:
    """A report, every step of it, and the next one to take."""
    initial = {"name": str(request.user), "role": request.user.get_role_display()}
    form = StepForm(request.POST or None, state=report.state, initial=initial)
    if form.is_valid() and _step(request, report, form):
        return redirect("defect-detail", report.pk)
    codes = caution_codes(complaint=report.complaint, component=None)
    same = alike(door=place.door, complaint=report.complaint, as_of=timezone.now())
    context = {
        "form": form if NEXT_STEPS[report.state] else None,
        "report": report,
        "place": place,
        "steps": report.steps.order_by("taken_at", "pk"),
        "photos": report.attachments.order_by("pk"),
        "alike": [each for each in same if each.pk != report.pk],
        "cautions": cautions_in_order(codes),
    }
    return render(request, "inspections/defect_detail.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
def attachment_file(request: SignedInRequest, pk: int) -> FileResponse:
    """The picture that came with a report, shown as a picture and nothing else."""
    reports = DefectReport.objects.visible_to(request.user)
    row = get_object_or_404(Attachment, pk=pk, defect_report__in=reports)
    try:
        return FileResponse(row.file.open("rb"), content_type=row.content_type)
    except FileNotFoundError as missing:
        raise Http404 from missing


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def hold_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Keep a truck, or take the power off its door."""
    form = HoldForm(request.POST or None)
    if form.is_valid():
        place_hold(
            door=place.door,
            placed_at=timezone.now(),
            entered_at=timezone.now(),
            placed_by=request.user,
            **form.cleaned_data,
        )
        return redirect("defect-list")
    return render(request, "inspections/hold_new.html", {"form": form, "place": place})


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(RoadHold)
def hold_lift(request: SignedInRequest, hold: RoadHold, place: Place) -> HttpResponse:
    """Sign for the repair that ends a hold."""
    initial = {"signed_by": str(request.user), "signed_role": request.user.get_role_display()}
    form = LiftHoldForm(request.POST or None, initial=initial)
    if form.is_valid():
        now = timezone.now()
        try:
            lift_hold(
                hold=hold,
                lifted_at=now,
                lifted_by=request.user,
                entered_at=now,
                **form.cleaned_data,
            )
        except HoldRefusedError as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            return redirect("defect-list")
    cautions = cautions_in_order(("C8", "C1", "C9"))
    context = {"form": form, "hold": hold, "place": place, "cautions": cautions}
    return render(request, "inspections/hold_lift.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(FollowUp)
def follow_up_drop(request: SignedInRequest, follow_up: FollowUp, place: Place) -> HttpResponse:
    """Say why a finding no longer asks for its task."""
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        now = timezone.now()
        try:
            drop_follow_up(follow_up=follow_up, dropped_at=now, entered_at=now, **form.cleaned_data)
        except FollowUpRefusedError as refused:
            form.add_error("reason", str(refused))
        else:
            return redirect(place.url)
    context = {"form": form, "follow_up": follow_up, "place": place}
    return render(request, "inspections/follow_up_drop.html", context)


def _step(request: SignedInRequest, report: DefectReport, form: StepForm) -> bool:
    """Whether the step is taken; if not, the form says why."""
    now = timezone.now()
    try:
        take_step(
            report=report,
            taken_at=now,
            entered_at=now,
            entered_by=request.user,
            **form.cleaned_data,
        )
    except DefectRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return False
    return True
