"""What is said on every page of a depot: trucks that must not go, and reports nobody looked at."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.models import Depot, Role, User
from inspections.models import DefectReport, DefectState, RoadHold

# As many trucks are named; the page behind the notice shows all.
NAMED = 4


def depot_notices(request: HttpRequest) -> dict[str, object]:
    """Context processor: the notices of the depots that the person looks after.

    Worked out once, by three queries, where a template says them: a page's tables have contexts of
    their own and say none.
    """
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {}
    depots = Depot.objects.visible_to(user)
    return {
        "depot_notices": SimpleLazyObject(lambda: [*_holds(user, depots), *_reports(user, depots)])
    }


def _holds(user: User, depots: QuerySet[Depot]) -> list[str]:
    """One sentence for the trucks that stay, one for the doors without power."""
    standing = RoadHold.objects.standing().at_depots(depots).select_related("truck", "door")
    holds = list(standing)
    staying = [hold for hold in holds if hold.keeps_truck]
    unpowered = [hold for hold in holds if not hold.keeps_truck]
    words = []
    if staying:
        words.append(_("Not to be driven: %(trucks)s.") % {"trucks": _named(staying)})
    if unpowered:
        words.append(_("Door not to be powered: %(trucks)s.") % {"trucks": _named(unpowered)})
    return [_notice(user, each, reverse("defect-list"), _("See why")) for each in words]


def _named(holds: list[RoadHold]) -> str:
    """The trucks held, by number and reason."""
    shown = [f"{hold.truck or hold.door} ({hold.get_because_display()})" for hold in holds[:NAMED]]
    more = len(holds) - len(shown)
    if more:
        shown.append(ngettext("%(count)d more", "%(count)d more", more) % {"count": more})
    return ", ".join(shown)


def _reports(user: User, depots: QuerySet[Depot]) -> list[str]:
    """A driver's report stops nothing, but raises its question at once."""
    waiting = DefectReport.objects.at_depots(depots).filter(state=DefectState.REPORTED)
    rows = list(waiting.select_related("truck", "door").order_by("-reported_at", "-pk")[:2])
    if not rows:
        return []
    latest = rows[0]
    words = _("A driver says of truck %(truck)s: %(complaint)s. Nobody has looked at it yet.") % {
        "truck": latest.truck or latest.door,
        "complaint": latest.get_complaint_display(),
    }
    if len(rows) > 1:
        words = f"{words} {_('More reports wait.')}"
        return [_notice(user, words, reverse("defect-list"), _("See all"))]
    return [_notice(user, words, reverse("defect-detail", args=[latest.pk]), _("Look at it"))]


def _notice(user: User, words: str, url: str, link: str) -> str:
    """The words, with the way to act for those who may."""
    if not user.has_any_role(Role.TECHNICIAN, Role.PLANNER):
        return words
    return format_html('{} <a href="{}">{}</a>', words, url, link)
