"""Calendar feeds are made once, their secret shown once, and read by whoever holds it."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from fleetdoors.models import Depot, User
from inspections.calendar_text import DayEvent, calendar_text
from inspections.models import Visit, VisitFeed, VisitState

# What was done lately and what is planned for a season.
DAYS_BACK, DAYS_AHEAD = 30, 120
MOST_EVENTS = 2_000


@dataclass(frozen=True)
class MadeFeed:
    """A new feed and its secret, which is shown once and kept nowhere."""

    feed: VisitFeed
    secret: str


def make_feed(*, depot: Depot, label: str, made_by: User | None, made_at: datetime) -> MadeFeed:
    """Open an address of 256 random bits for the depot's visits."""
    secret = secrets.token_urlsafe(32)
    feed = VisitFeed.objects.create(
        depot=depot,
        label=label.strip(),
        digest=_digest_of(secret),
        made_by=made_by,
        made_at=made_at,
    )
    return MadeFeed(feed, secret)


def feed_shown(secret: str) -> VisitFeed | None:
    """The feed in force with this secret; queries once."""
    return (
        VisitFeed.objects.in_force()
        .filter(digest=_digest_of(secret))
        .select_related("depot")
        .first()
    )


def feed_text(feed: VisitFeed, *, today: date, domain: str) -> str:
    """The depot's visits as a calendar; runs two queries."""
    first, last = today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD)
    visits = (
        Visit.objects.filter(depot=feed.depot, planned_on__range=(first, last))
        .with_links()
        .prefetch_related("jobs__task", "jobs__fault", "jobs__follow_up", "jobs__defect_report")
        .order_by("planned_on", "pk")[:MOST_EVENTS]
    )
    name = _("Doors at %(depot)s") % {"depot": feed.depot}
    return calendar_text(name, [_event(visit) for visit in visits], domain=domain)


def _event(visit: Visit) -> DayEvent:
    jobs = [str(job) for job in visit.jobs.all()]
    return DayEvent(
        key=f"visit-{visit.pk}",
        day=visit.planned_on,
        summary=_("Truck %(truck)s: %(state)s")
        % {"truck": visit.truck or visit.door, "state": visit.get_state_display()},
        description="\n".join(jobs),
        location=str(visit.depot or ""),
        changed_at=max(each for each in _moments(visit) if each),
        is_cancelled=visit.state == VisitState.NOT_PRESENTED,
    )


def _moments(visit: Visit) -> tuple[datetime | None, ...]:
    return (visit.entered_at, visit.started_at, visit.closed_at)


def _digest_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
