"""The week's plan: what is proposed beside what is planned, and the full run's progress."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from analytics.forms.schedule import ScheduleForm
from analytics.models import PlanRun, Proposal
from analytics.reports.basis import basis_in
from analytics.reports.schedule_page import has_trucks, planned_nights, proposal_page
from analytics.reports.schedule_words import how_good
from analytics.scheduling.propose import ask_for_full_run, propose_at_once
from analytics.scheduling.running import is_lost, start_full_run
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, DoorUnit, Role
from inspections.models import PlanAcceptance
from inspections.services.off_plan import without_reason


@open_to(Role.PLANNER)
def schedule(request: SignedInRequest) -> HttpResponse:
    """A depot's nights: the open proposal, or what is planned."""
    form = schedule_form(request, request.GET)
    depot = form.chosen_depot
    context: dict[str, object] = {"form": form, "depot": depot}
    if depot is not None:
        with timezone.override(depot.zone):
            context |= _of_depot(request, depot, form)
            return render(request, "analytics/schedule.html", context)
    context |= {"has_doors": False, "may_import": request.user.has_any_role(Role.PLANNER)}
    return render(request, "analytics/schedule.html", context)


def _of_depot(request: SignedInRequest, depot: Depot, form: ScheduleForm) -> dict[str, object]:
    now = timezone.now()
    proposal = Proposal.objects.open_at(depot.pk).first()
    facts: dict[str, object] = {
        "has_doors": DoorUnit.objects.visible_to(request.user).exists(),
        "has_trucks": has_trucks(depot),
        "basis": basis_in(depot.zone, now=now),
        "may_import": True,
        "may_recompute": True,
        "last_accepted": PlanAcceptance.objects.in_force().filter(depot=depot).first(),
        "off_plan": without_reason(depot, today=timezone.localdate(now)),
    }
    if proposal:
        page = proposal_page(proposal, depot, now=now)
        return facts | {"page": page, "how_good": how_good(proposal)}
    return facts | {"planned": planned_nights(depot, form.first_on, form.count)}


def schedule_form(request: HttpRequest, data: object) -> ScheduleForm:
    """The form with today's date at the first depot in sight."""
    user = request.user
    assert not user.is_anonymous  # every view that asks is guarded
    first = Depot.objects.visible_to(user).first()
    return ScheduleForm(
        data, user=user, today=timezone.localdate(timezone=first.zone if first else None)
    )


def back_to(depot: Depot, anchor: str = "") -> HttpResponse:
    """The plan of the depot."""
    return redirect(reverse("schedule", query={"depot": depot.code}) + anchor)


@open_to(Role.PLANNER)
@require_POST
def schedule_propose(request: SignedInRequest) -> HttpResponse:
    """Work out a quick plan of one depot."""
    form = schedule_form(request, request.POST)
    depot = form.chosen_depot
    if depot is None:
        return redirect("schedule")
    propose_at_once(
        depot=depot,
        first_on=form.first_on,
        nights=form.count,
        asked_at=timezone.now(),
        asked_by=request.user,
    )
    return back_to(depot)


@open_to(Role.PLANNER)
@require_POST
def schedule_run(request: SignedInRequest) -> HttpResponse:
    """Start the full run, over one depot or over all in sight, and show its progress."""
    form = schedule_form(request, request.POST)
    everywhere = "everywhere" in request.POST
    depots = list(form.depots.values()) if everywhere else [form.chosen_depot]
    asked = [depot for depot in depots if depot is not None]
    if not asked:
        return redirect("schedule")
    now = timezone.now()
    run = ask_for_full_run(
        depots=asked,
        first_on=form.first_on,
        nights=form.count,
        asked_at=now,
        asked_by=request.user,
    )
    start_full_run(run, asked, now=now)
    query = {"depot": form.chosen_depot.code if form.chosen_depot else ""}
    return redirect(reverse("schedule-progress", args=[run.pk], query=query))


@open_to(Role.PLANNER)
def schedule_progress(request: SignedInRequest, pk: int) -> HttpResponse:
    """How far a full run is: a page, and the fragment that keeps asking."""
    run = get_object_or_404(PlanRun, pk=pk, asked_by=request.user)
    form = schedule_form(request, request.GET)
    lost = is_lost(run, now=timezone.now())
    query = {"depot": form.chosen_depot.code} if form.chosen_depot else {}
    context = {
        "run": run,
        "is_lost": lost,
        "is_done": run.finished_at is not None,
        "plan_url": reverse("schedule", query=query),
        "poll_url": reverse("schedule-progress", args=[pk], query=query),
    }
    if run.finished_at is not None and not request.htmx:
        messages.success(request, _("The full run is done. Nothing is planned before you accept."))
        return redirect(reverse("schedule", query=query))
    name = "_schedule_progress" if request.htmx else "schedule_progress"
    return render(request, f"analytics/{name}.html", context)
