"""What is said on every page of a depot: trucks that must not go, and reports nobody looked at."""

from __future__ import annotations

from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.models import Role, User
from inspections.models import DefectReport, DefectState, RoadHold

MOST = 3


def depot_notices(request: HttpRequest) -> dict[str, object]:
    """Context processor: the notices of the depots that the person looks after; queries twice."""
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {}
    return {"depot_notices": [*_holds(user), *_reports(user)]}


def _holds(user: User) -> list[str]:
    standing = RoadHold.objects.standing().visible_to(user).select_related("truck", "door")
    rows = list(standing[: MOST + 1])
    notices = [
        _notice(user, _hold_words(hold), reverse("hold-lift", args=[hold.pk]), _("See the hold"))
        for hold in rows[:MOST]
    ]
    if len(rows) > MOST:
        more = standing.count() - MOST
        words = ngettext("%(count)d more hold stands.", "%(count)d more holds stand.", more)
        notices.append(_notice(user, words % {"count": more}, reverse("defect-list"), _("See all")))
    return notices


def _hold_words(hold: RoadHold) -> str:
    facts = {"truck": hold.truck or hold.door, "because": hold.get_because_display()}
    if hold.keeps_truck:
        return _("Truck %(truck)s is not to be driven: %(because)s.") % facts
    return _("The door of truck %(truck)s is not to be powered: %(because)s.") % facts


def _reports(user: User) -> list[str]:
    """A driver's report stops nothing, but raises its question at once."""
    waiting = DefectReport.objects.visible_to(user).filter(state=DefectState.REPORTED)
    rows = list(waiting.select_related("truck", "door").order_by("-reported_at")[:2])
    if not rows:
        return []
    latest = rows[0]
    words = _("A driver says of truck %(truck)s: %(complaint)s. Nobody has looked at it yet.") % {
        "truck": latest.truck or latest.door,
        "complaint": latest.get_complaint_display(),
    }
    notices = [_notice(user, words, reverse("defect-detail", args=[latest.pk]), _("Look at it"))]
    if len(rows) > 1:
        notices.append(
            _notice(user, _("More drivers' reports wait."), reverse("defect-list"), _("See all"))
        )
    return notices


def _notice(user: User, words: str, url: str, link: str) -> str:
    """The words, with the way to act for those who may."""
    if not user.has_any_role(Role.TECHNICIAN, Role.PLANNER):
        return words
    return format_html('{} <a href="{}">{}</a>', words, url, link)
