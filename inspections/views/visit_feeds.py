"""A depot's visits for other people's calendars."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to, open_to_strangers
from fleetdoors.models import Depot, Role
from fleetdoors.public_address import public_url
from inspections.forms.visit_feed import VisitFeedForm
from inspections.models import VisitFeed
from inspections.services.visit_feeds import feed_shown, feed_text, make_feed


@open_to(Role.PLANNER)
@never_cache
def visit_feeds(request: SignedInRequest) -> HttpResponse:
    """The feeds of the depots in sight, and a form for the next; its address is shown once."""
    depots = Depot.objects.visible_to(request.user)
    form = VisitFeedForm(request.POST or None, depots=depots)
    address = ""
    if form.is_valid():
        made = make_feed(
            depot=form.cleaned_data["depot"],
            label=form.cleaned_data["label"],
            made_by=request.user,
            made_at=timezone.now(),
        )
        address = public_url(reverse("visit-calendar", args=[made.secret]), request)
    context = {
        "form": VisitFeedForm(depots=depots) if address else form,
        "address": address,
        "feeds": VisitFeed.objects.filter(depot__in=depots).newest_first(),
    }
    return render(request, "inspections/visit_feeds.html", context)


@open_to(Role.PLANNER)
@require_POST
def visit_feed_end(request: SignedInRequest, pk: int) -> HttpResponse:
    """Close an address: calendars that read it get nothing any more."""
    feeds = VisitFeed.objects.filter(depot__in=Depot.objects.visible_to(request.user))
    feed = get_object_or_404(feeds, pk=pk)
    feed.end(at=timezone.now())
    messages.success(request, _("Closed: %(feed)s.") % {"feed": feed})
    return redirect("visit-feeds")


@open_to_strangers
def visit_calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """The visits, to whoever holds the address; trucks and tasks, no names of people."""
    feed = feed_shown(secret)
    if feed is None:
        raise Http404
    today = timezone.now().astimezone(feed.depot.zone).date()
    text = feed_text(feed, today=today, domain=request.get_host().partition(":")[0])
    answer = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="visits.ics"'
    answer["X-Robots-Tag"] = "noindex"
    return answer
