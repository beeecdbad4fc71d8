"""What a planner does to a proposed plan: move, release, accept, put away, take back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from analytics.forms.schedule import MoveForm
from analytics.models import Proposal, ProposedVisit
from analytics.reports.schedule_page import home_of, why_changes
from analytics.scheduling.accepting import accept_proposal, put_away
from analytics.scheduling.moving import (
    Against,
    Move,
    MoveRefusedError,
    move_visit,
    release_visit,
)
from analytics.views.schedule import back_to
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Depot, Role
from fleetdoors.templatetags.units import short_day
from inspections.models import PlanAcceptance
from inspections.services.planning import PlanRefusedError, take_back_plan


def _open_proposal(request: SignedInRequest, pk: int) -> tuple[Proposal, Depot]:
    """An open proposal of a depot in sight, and the depot."""
    seen = Depot.objects.visible_to(request.user)
    proposal = get_object_or_404(Proposal, pk=pk, closed_at__isnull=True, depot__in=seen)
    return proposal, seen.get(pk=proposal.depot_id)


@open_to(Role.PLANNER)
@require_POST
def schedule_move(request: SignedInRequest, pk: int) -> HttpResponse:
    """Move a visit to another night, where it is kept from then on."""
    proposal, depot = _open_proposal(request, pk)
    form = MoveForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose a night of this plan. Nothing was moved."))
        return back_to(depot)
    visit = get_object_or_404(ProposedVisit, pk=form.cleaned_data["visit"], proposal=proposal)
    now = timezone.now()
    home = home_of(depot, proposal, {visit.truck_id}, now=now)
    move = Move(
        visit_pk=visit.pk,
        night_on=form.cleaned_data["night"],
        home=home.get(visit.truck_id or 0, frozenset()),
    )
    try:
        against = move_visit(proposal=proposal, move=move, moved_at=now, moved_by=request.user)
    except MoveRefusedError as refused:
        messages.error(request, _("Not moved. %(why)s") % {"why": refused})
    else:
        _say_moved(request, visit, move, against)
    # At the visit wherever it is now: a place that takes the focus, so that the keys go on there.
    return back_to(depot, f"#visit-{visit.pk}")


def _say_moved(
    request: SignedInRequest, visit: ProposedVisit, move: Move, against: Against
) -> None:
    facts = {"truck": visit.truck or visit.door, "night": short_day(move.night_on)}
    said = _("%(truck)s stands on %(night)s and is kept there by every new plan.") % facts
    if against.warns:
        messages.warning(request, " ".join((said, *against.warns)))
    else:
        messages.success(request, said)


@open_to(Role.PLANNER)
@require_POST
def schedule_release(request: SignedInRequest, pk: int) -> HttpResponse:
    """Leave a visit's night to the next plan again."""
    proposal, depot = _open_proposal(request, pk)
    form = MoveForm({**request.POST.dict(), "night": proposal.first_on})
    if form.is_valid():
        chosen = get_object_or_404(ProposedVisit, pk=form.cleaned_data["visit"], proposal=proposal)
        visit = release_visit(visit=chosen, released_at=timezone.now(), released_by=request.user)
        messages.success(
            request,
            _("The next plan is free to move %(truck)s.") % {"truck": visit.truck or visit.door},
        )
    return back_to(depot)


@open_to(Role.PLANNER)
@require_POST
def schedule_accept(request: SignedInRequest, pk: int) -> HttpResponse:
    """Make the proposal what is planned."""
    proposal, depot = _open_proposal(request, pk)
    now = timezone.now()
    try:
        acceptance = accept_proposal(
            proposal=proposal,
            why=why_changes(proposal, depot, now=now),
            accepted_at=now,
            accepted_by=request.user,
        )
    except PlanRefusedError as refused:
        messages.error(request, str(refused))
        return back_to(depot)
    count = acceptance.steps.count()
    messages.success(
        request,
        ngettext("Accepted: %(count)d visit changed.", "Accepted: %(count)d visits changed.", count)
        % {"count": count},
    )
    return back_to(depot)


@open_to(Role.PLANNER)
@require_POST
def schedule_put_away(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put the proposal away; what is planned stays."""
    proposal, depot = _open_proposal(request, pk)
    put_away(proposal=proposal, closed_at=timezone.now())
    messages.success(request, _("The proposal is put away. What is planned stays as it was."))
    return back_to(depot)


@open_to(Role.PLANNER)
@require_POST
def schedule_take_back(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take an accepted plan back: the visits as they were before it."""
    seen = Depot.objects.visible_to(request.user)
    acceptance = get_object_or_404(PlanAcceptance, pk=pk, depot__in=seen)
    try:
        done = take_back_plan(
            acceptance=acceptance, undone_at=timezone.now(), undone_by=request.user
        )
    except PlanRefusedError as refused:
        messages.error(request, str(refused))
        return back_to(acceptance.depot)
    said = _("The plan is taken back: %(count)d visits are as before.") % {"count": done.put_back}
    if done.left_alone:
        said += " " + _("Begun since, or in the way, and left alone: %(visits)s.") % {
            "visits": ", ".join(str(visit) for visit in done.left_alone)
        }
    messages.success(request, said)
    return back_to(acceptance.depot)
