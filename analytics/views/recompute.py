"""New figures of the whole fleet, asked for by a planner."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from analytics.running import Progress, progress_since, start_recomputing
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role


@open_to(Role.PLANNER)
@require_POST
def recompute(_request: SignedInRequest) -> HttpResponse:
    """Start a run, and go where its progress is shown."""
    now = timezone.now()
    start_recomputing(now=now)
    return redirect(reverse("recompute-progress", query={"since": now.isoformat()}))


@open_to(Role.PLANNER)
def recompute_progress(request: SignedInRequest) -> HttpResponse:
    """How far the run is: a page, and the fragment that keeps asking."""
    asked_at = _asked_at(request)
    progress = progress_since(asked_at, now=timezone.now())
    query = {"since": asked_at.isoformat()}
    context = {
        "progress": progress,
        "words": _words(progress),
        "poll_url": reverse("recompute-progress", query=query),
    }
    name = "_recompute_progress" if request.htmx else "recompute_progress"
    return render(request, f"analytics/{name}.html", context)


def _asked_at(request: SignedInRequest) -> datetime:
    """The moment in the address; a moment that is none was not asked for."""
    try:
        moment = parse_datetime(request.GET.get("since", ""))
    except ValueError:
        moment = None
    if "since" in request.GET and (moment is None or timezone.is_naive(moment)):
        raise Http404(_("No such run."))
    return moment or timezone.now()


def _words(progress: Progress) -> str:
    if progress.is_done:
        return _("Every due date, reading and order is as of now.")
    if progress.is_lost:
        return _("No result after half an hour. The figures before are shown; see the log.")
    if progress.slices is not None:
        return _("Computing some depots at a time. The figures before are shown until then.")
    if progress.is_writing:
        return _("Writing the new figures. The ones before are shown until then.")
    return _("Reading the record. The figures before are shown until then.")
