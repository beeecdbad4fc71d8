"""A call from the road, taken down while the driver is on the line."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import DoorUnit, Role
from fleetdoors.services.finding import find_trucks_and_doors
from inspections.forms.roadside import RoadsideForm
from inspections.services.defects import DefectRefusedError
from inspections.services.roadside import Call, CallTaken, take_call
from inspections.symptoms import cautions_in_order

# Read out to the driver: keep clear, do not force it, do not climb.
READ_OUT = ("C1", "C8", "C9")
SECURED = {"yes": True, "no": False, "unknown": None}


@open_to(Role.TECHNICIAN, Role.PLANNER)
def roadside_call(request: SignedInRequest) -> HttpResponse:
    """One short page: who, where, what, and whether the truck can go."""
    form = RoadsideForm(request.POST or None, initial={"truck": request.GET.get("truck", "")})
    if form.is_valid():
        taken = _take(request, form)
        if taken:
            _say(request, taken)
            return redirect("defect-detail", taken.report.pk)
    context = {"form": form, "cautions": cautions_in_order(READ_OUT)}
    return render(request, "inspections/roadside_call.html", context)


def _take(request: SignedInRequest, form: RoadsideForm) -> CallTaken | None:
    """The call on record, or None with the form saying why not."""
    said = form.cleaned_data
    found = find_trucks_and_doors(user=request.user, typed=said["truck"].strip())
    if len(found.exact) != 1 or not found.exact[0].door:
        form.add_error("truck", _("No truck with a door is called exactly so: ask once more."))
        return None
    call = Call(
        reporter=said["reporter"],
        complaint=said["complaint"],
        call_back=said["call_back"],
        where=said["where"],
        words=said["words"],
        can_be_secured=SECURED[said["can_be_secured"]],
        is_damaged=said["is_damaged"],
    )
    door = DoorUnit.objects.get(serial=found.exact[0].door)
    try:
        return take_call(door=door, call=call, taken_at=timezone.now(), taken_by=request.user)
    except DefectRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return None


def _say(request: SignedInRequest, taken: CallTaken) -> None:
    if taken.hold:
        messages.warning(
            request,
            _("Kept: %(why)s. Tell the driver to stay until somebody has been there.")
            % {"why": taken.hold.get_because_display()},
        )
    else:
        messages.success(request, _("Taken down."))
