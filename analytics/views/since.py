"""What changed since the person last looked, and the word that it was seen."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from analytics.reports.basis import basis_at
from analytics.reports.scope import depot_ids_of
from analytics.reports.since_figures import figures_of
from analytics.reports.since_page import since_page
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.services.last_look import mark_as_looked


@open_to(Role.PLANNER)
def since(request: SignedInRequest) -> HttpResponse:
    """The news, which stay news until the person says that they were seen."""
    now = timezone.now()
    context = {"page": since_page(request.user, now=now), "now": now}
    return render(request, "analytics/since.html", context)


@open_to(Role.PLANNER)
@require_POST
def since_seen(request: SignedInRequest) -> HttpResponse:
    """Everything that the page showed was seen; what came in meanwhile stays new."""
    now, depot_ids = timezone.now(), depot_ids_of(request.user)
    until = _until(request.POST.get("until", ""), now)
    figures = figures_of(basis_at(depot_ids, now=now), depot_ids)
    if until is None or request.POST.get("mark") != figures.mark:
        messages.warning(request, _("Figures came in meanwhile: look once more, then say so."))
        return redirect("since")
    mark_as_looked(person=request.user, until=until, stood=figures.stood)
    messages.success(request, _("Marked as seen."))
    return redirect("today")


def _until(typed: str, now: datetime) -> datetime | None:
    """The moment at which the page was made; none that lies ahead."""
    try:
        until = parse_datetime(typed)
    except ValueError:
        return None
    return until if until is not None and timezone.is_aware(until) and until <= now else None
