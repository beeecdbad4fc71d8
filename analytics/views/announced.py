"""What is coming: announced with a preview, listed, and cancelled with a reason."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from analytics.assessment.whole import HORIZON_DAYS
from analytics.forms.announced import FORMS, AnnouncementForm, heading_of
from analytics.models import Computation
from analytics.recompute.outlooks import fetch_ground
from analytics.reports.announced_page import announced_page
from analytics.reports.announced_preview import Preview, preview_shift
from analytics.reports.announced_words import what_words
from analytics.reports.basis import basis_at
from analytics.reports.scope import depot_ids_of
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.orders import ReasonForm
from inspections.models import AnnouncedChange
from inspections.services.announced_changes import (
    AnnouncementRefusedError,
    announce,
    announced_row,
    cancel_announced,
)
from inspections.views.carrying_out import ask

# A page answers in a few seconds with so many doors; more are worked out after saving only.
MOST_DOORS = 3_000


@open_to(Role.PLANNER, Role.BUYER)
def announced_list(request: SignedInRequest) -> HttpResponse:
    """Everything announced for the depots in sight, and what it makes of the need for parts."""
    depot_ids = depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    page = announced_page(request.user, depot_ids, basis.run, today=basis.today)
    context = {"basis": basis, "page": page}
    return render(request, "analytics/announced_list.html", context)


@open_to(Role.PLANNER, Role.BUYER)
def announced_new(request: SignedInRequest, kind: str) -> HttpResponse:
    """One change: tried out by a preview, then announced."""
    if kind not in FORMS:
        raise Http404(kind)
    form = FORMS[kind](request.POST or None, user=request.user)
    preview = None
    if form.is_valid() and "save" in request.POST and _is_announced(request, form):
        return redirect("announced-list")
    if form.is_bound and form.is_valid():
        preview = _preview(request, form)
    context = {"form": form, "heading": heading_of(kind), "preview": preview}
    return render(request, "analytics/announced_new.html", context)


@open_to(Role.PLANNER, Role.BUYER)
def announced_cancel(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a change out of the forecast; it stays on record with the reason."""
    visible = AnnouncedChange.objects.visible_to(request.user).with_links()
    change = get_object_or_404(visible, pk=pk)
    if change.depot is None and depot_ids_of(request.user) is not None:
        raise PermissionDenied(
            _("This holds for every depot. You see some of them, so you cannot cancel it.")
        )
    form = ReasonForm(request.POST or None)
    if form.is_valid() and _is_cancelled(request, form, change):
        return redirect("announced-list")
    heading = _("Why is this cancelled?")
    lead = _("%(what)s. It stays on record, and counts no longer from now on.") % {
        "what": what_words(change)
    }
    back = reverse("announced-list")
    return ask(request, form, heading=heading, lead=lead, save=_("Cancel it"), back=back)


def _is_announced(request: SignedInRequest, form: AnnouncementForm) -> bool:
    """Whether the change is on record; if not, the form says why."""
    try:
        announce(said=form.said(), entered_at=timezone.now(), entered_by=request.user)
    except AnnouncementRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return False
    messages.success(request, _("Announced. The need for parts is worked out with it."))
    return True


def _is_cancelled(request: SignedInRequest, form: ReasonForm, change: AnnouncedChange) -> bool:
    try:
        cancel_announced(change=change, at=timezone.now(), by=request.user, **form.cleaned_data)
    except AnnouncementRefusedError as refused:
        form.add_error("reason", str(refused))
        return False
    messages.success(request, _("Cancelled. The need for parts is worked out without it."))
    return True


def _preview(request: SignedInRequest, form: AnnouncementForm) -> Preview | None:
    """What the change would do; None where the form says why it cannot be announced."""
    now, run = timezone.now(), Computation.objects.current().first()
    try:
        row = announced_row(said=form.said(), entered_at=now, entered_by=request.user)
    except AnnouncementRefusedError as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return None
    if run is None:
        return Preview(problem=_("No figures are computed yet, so no shift can be foreseen."))
    if run.doors > MOST_DOORS:
        problem = _(
            "So large a fleet is worked out after saving: the shift then stands on the list and "
            "on each part's page. It can be cancelled."
        )
        return Preview(problem=problem)
    ground = fetch_ground(run, as_of=now)
    return preview_shift(ground, row, depot_ids_of(request.user), HORIZON_DAYS)
