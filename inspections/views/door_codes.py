"""What the code on a door opens, and the sheets of labels that carry it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to, open_to_strangers
from fleetdoors.models import Depot, DoorUnit, Role, User
from fleetdoors.public_address import public_url
from inspections.door_code import DoorCodeError, read_code, spoken
from inspections.forms.defect import AcknowledgeForm, DefectForm
from inspections.models import DefectReport, DefectState, DoorLabel, RoadHold
from inspections.services.defects import take_step
from inspections.services.labels import issue_labels
from inspections.views.code_picture import code_picture
from inspections.views.place import Place, place_of
from inspections.views.reporting import kept_report

LATEST_REPORTS = 3


@open_to_strangers
def door_code(request: HttpRequest, code: str) -> HttpResponse:
    """Straight to the door for a technician; a short report form for everybody else."""
    label = _label(code)
    if label is None:
        return render(request, "inspections/door_code_unknown.html", {"code": code}, status=404)
    user = request.user
    works_here = isinstance(user, User) and user.has_any_role(Role.TECHNICIAN, Role.PLANNER)
    if works_here and request.method == "GET" and "report" not in request.GET:
        return redirect("round-door", label.door.serial)
    place = place_of(label.door)
    with timezone.override(place.zone):
        if "acknowledge" in request.POST:
            return _acknowledge(request, label)
        return _report(request, label, place)


@open_to(Role.TECHNICIAN, Role.PLANNER)
def labels(request: SignedInRequest) -> HttpResponse:
    """A sheet of labels for the doors of a depot."""
    depots = Depot.objects.visible_to(request.user)
    depot = depots.filter(code=request.GET.get("depot", "")).first() or depots.first()
    doors = _doors_of(depot)
    if request.method == "POST":
        issued = issue_labels(doors=doors, issued_at=timezone.now())
        messages.success(request, _("%(count)d labels issued.") % {"count": issued})
        return redirect(f"{reverse('labels')}?depot={depot.code if depot else ''}")
    issued_rows = DoorLabel.objects.filter(door__in=doors).select_related("door")
    context = {
        "depots": depots,
        "depot": depot,
        "labels": [_printed(request, row) for row in issued_rows.order_by("door__serial")],
        "missing": doors.exclude(label__isnull=False).count(),
    }
    return render(request, "inspections/labels.html", context)


def _label(code: str) -> DoorLabel | None:
    """The label of a code that was issued; a slip in typing finds none."""
    try:
        wanted = read_code(code)
    except DoorCodeError:
        return None
    return DoorLabel.objects.select_related("door__door_model").filter(code=wanted).first()


def _report(request: HttpRequest, label: DoorLabel, place: Place) -> HttpResponse:
    user = request.user if isinstance(request.user, User) else None
    form = DefectForm(request.POST or None, request.FILES or None)
    status = 200
    if form.is_valid():
        if kept_report(label.door, form, reported_by=user):
            return redirect(f"{reverse('door-code', args=[label.code])}?report=kept")
        status = 429
    context: dict[str, Any] = {
        "form": form,
        "place": place,
        "code": spoken(label.code),
        "is_kept": request.GET.get("report") == "kept",
        "reports": DefectReport.objects.filter(door=label.door)
        .order_by("-reported_at", "-pk")
        .prefetch_related("steps")[:LATEST_REPORTS],
        "acknowledge": AcknowledgeForm(auto_id="acknowledge_%s"),
        "holds": RoadHold.objects.standing().filter(door=label.door),
        "may_acknowledge": DefectState.CERTIFIED,
    }
    return render(request, "inspections/door_code.html", context, status=status)


def _acknowledge(request: HttpRequest, label: DoorLabel) -> HttpResponse:
    """The next driver has read what became of a signed-off report."""
    form = AcknowledgeForm(request.POST)
    asked = request.POST.get("acknowledge", "")
    report = DefectReport.objects.filter(
        door=label.door,
        state=DefectState.CERTIFIED,
        pk=int(asked) if asked.isascii() and asked.isdecimal() else 0,
    ).first()
    if report and form.is_valid():
        take_step(
            report=report,
            kind=DefectState.ACKNOWLEDGED,
            taken_at=timezone.now(),
            name=form.cleaned_data["name"],
            role=_("driver"),
            entered_at=timezone.now(),
        )
    return redirect(f"{reverse('door-code', args=[label.code])}?report=seen")


def _doors_of(depot: Depot | None) -> Any:
    """Doors in service on trucks of the depot."""
    doors = DoorUnit.objects.in_service(as_of=timezone.localdate())
    return doors.filter(mountings__removed_on__isnull=True, mountings__truck__depot=depot).order_by(
        "serial"
    )


def _printed(request: HttpRequest, label: DoorLabel) -> dict[str, object]:
    """A label as it is printed: the code to scan, and to read by eye."""
    address = public_url(reverse("door-code", args=[label.code]), request)
    return {"door": label.door, "spoken": spoken(label.code), "picture": code_picture(address)}
