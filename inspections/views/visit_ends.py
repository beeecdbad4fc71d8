"""Pages at the end of a visit: the final check, and closing with the sign-off."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Component, Part, Role
from inspections.forms.closing import JobForm, SignOffForm
from inspections.forms.visit import FinalCheckForm
from inspections.models import FaultTrace, Visit
from inspections.services.closing import SignOff, close_visit
from inspections.services.final_checks import record_final_check
from inspections.services.fitting import parts_for
from inspections.services.labour import minutes_open
from inspections.services.off_plan import how_it_came_out
from inspections.services.tracing import position_of
from inspections.services.visits import VisitRefusedError
from inspections.symptoms import cautions_in_order
from inspections.views.at_truck import of_door
from inspections.views.place import Place
from inspections.views.visit_facts import jobs_of


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_check(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """The final check: five things tried when the work is over."""
    form = FinalCheckForm(request.POST or None)
    if form.is_valid():
        try:
            record_final_check(
                visit=visit,
                items=form.items(),
                note=form.cleaned_data["note"],
                checked_at=timezone.now(),
                checked_by=request.user,
                entered_at=timezone.now(),
            )
        except VisitRefusedError as refused:
            form.add_error(None, str(refused))
        else:
            return redirect("visit-detail", visit.pk)
    cautions = cautions_in_order(("C2", "C9"))
    context = {"form": form, "visit": visit, "place": place, "cautions": cautions}
    return render(request, "inspections/visit_check.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@of_door(Visit)
def visit_close(request: SignedInRequest, visit: Visit, place: Place) -> HttpResponse:
    """Say what became of each job, what it took, and sign."""
    forms = _job_forms(request, visit)
    sign_off = _sign_off_form(request, visit)
    if request.method == "POST":
        whole = [form.is_whole() for form in forms]
        if sign_off.is_valid() and all(whole) and _close(request, visit, forms, sign_off):
            messages.success(request, _("Visit closed and signed."))
            visit.refresh_from_db()
            # One done on another night than planned is asked why, while it is fresh.
            asks = how_it_came_out(visit) is not None
            return redirect("visit-off-plan", visit.pk) if asks else redirect("round")
    last = visit.final_checks.newest_first().first()
    context = {
        "forms": forms,
        "sign_off": sign_off,
        "visit": visit,
        "place": place,
        "has_passed": bool(last and last.has_passed),
        "positions": place.door.fitments.in_place().exclude(position=""),
    }
    return render(request, "inspections/visit_close.html", context)


def _sign_off_form(request: SignedInRequest, visit: Visit) -> SignOffForm:
    """The minutes from the beginning until now, and the own name, both to be put right."""
    minutes = minutes_open(visit, now=timezone.now())
    initial = {"signed_by": str(request.user), "minutes": minutes}
    return SignOffForm(request.POST or None, initial=initial)


def _close(
    request: SignedInRequest, visit: Visit, forms: list[JobForm], sign_off: SignOffForm
) -> bool:
    """Whether the visit is closed; if not, the form of the job or the page says why."""
    now = timezone.now()
    try:
        close_visit(
            visit=visit,
            closings=[form.closing() for form in forms],
            sign_off=SignOff(
                signed_by=sign_off.cleaned_data["signed_by"],
                closed_at=now,
                entered_at=now,
                entered_by=request.user,
                minutes=sign_off.cleaned_data["minutes"],
            ),
        )
    except VisitRefusedError as refused:
        by_job = {form.prefix: form for form in forms}
        by_job.get(refused.field, sign_off).add_error(None, str(refused))
        return False
    return True


def _job_forms(request: SignedInRequest, visit: Visit) -> list[JobForm]:
    """A form for each job; a fault's is filled in from the verdict of this visit's trace."""
    parts = list(parts_for(visit.door.door_model))
    components = {each.code: each for each in Component.objects.order_by("name")}
    written_down = visit.traces.filter(fault__isnull=False).select_related("door__door_model")
    traces = {trace.fault_id: trace for trace in written_down}
    return [
        JobForm(
            request.POST or None,
            job=job,
            parts=parts,
            components=components,
            proposed=_proposed(traces.get(job.fault_id), parts),
        )
        for job in jobs_of(visit)
    ]


def _proposed(trace: FaultTrace | None, parts: list[Part]) -> Part | None:
    """The first part that fits what the trace behind the fault proposes."""
    if trace is None:
        return None
    wanted = position_of(trace).components[:1]
    return next((part for part in parts if part.component and part.component.code in wanted), None)
