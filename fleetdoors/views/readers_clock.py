"""The clock of whoever reads a page that belongs to no single depot.

A page of one depot or door sets that depot's clock itself. All others are read by the clock of the
depots in the reader's sight; where these differ, by the one on which the day begins last: nothing
is late before its day has ended everywhere. It is looked up only when a moment is printed.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta, tzinfo
from functools import cached_property
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from fleetdoors.models import Depot

_UTC = ZoneInfo("UTC")
_Answer = Callable[[HttpRequest], HttpResponseBase]


class ReadersZone(tzinfo):
    """The zone of the depots that the request's person sees; queries once, when first asked."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request

    @cached_property
    def found(self) -> ZoneInfo:
        """The zone of the depots in sight; UTC for a stranger, and where there is no depot."""
        person = getattr(self.request, "user", None)
        if person is None or not person.is_authenticated:
            return _UTC
        depots = Depot.objects.visible_to(person).order_by()
        names = depots.values_list("timezone", flat=True).distinct()
        now = timezone.now()
        return min(map(ZoneInfo, names), key=lambda zone: _ahead(now, zone), default=_UTC)

    def utcoffset(self, moment: datetime | None) -> timedelta | None:
        """As the zone itself."""
        return self.found.utcoffset(moment)

    def dst(self, moment: datetime | None) -> timedelta | None:
        """As the zone itself."""
        return self.found.dst(moment)

    def tzname(self, moment: datetime | None) -> str | None:
        """As the zone itself."""
        return self.found.tzname(moment)

    def fromutc(self, moment: datetime) -> datetime:
        """As the zone itself, which also tells an hour that comes twice."""
        return self.found.fromutc(moment.replace(tzinfo=self.found))

    def __str__(self) -> str:
        return str(self.found)


class ReadersClockMiddleware:
    """Answers each request by the clock of whoever reads."""

    def __init__(self, get_response: _Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer the request."""
        with timezone.override(ReadersZone(request)):
            return self.get_response(request)


def _ahead(now: datetime, zone: ZoneInfo) -> tuple[timedelta, str]:
    return now.astimezone(zone).utcoffset() or timedelta(0), str(zone)
