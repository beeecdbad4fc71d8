"""The shell around every page: one entry per question, for the person who asks it."""

from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Role, User


@dataclass(frozen=True)
class Entry:
    """A page that the shell leads to, and whose it is (nobody named = everyone's)."""

    url_name: str
    label: str | Promise
    roles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Item:
    """An entry as the shell shows it."""

    label: str | Promise
    url: str
    is_current: bool


ENTRIES = (
    Entry("today", _("Today")),
    Entry("round", _("Visits"), (Role.TECHNICIAN, Role.PLANNER)),
    Entry("due-list", _("What is due")),
    Entry("schedule", _("The week's plan"), (Role.PLANNER,)),
    Entry("work-ahead", _("The year ahead"), (Role.PLANNER,)),
    Entry("task-list", _("Tasks and intervals"), (Role.PLANNER,)),
    Entry("door-list", _("Doors")),
    Entry("reliability", _("How doors last"), (Role.PLANNER, Role.BUYER)),
    Entry("part-list", _("Parts to buy"), (Role.PLANNER, Role.BUYER)),
    Entry("order-list", _("Orders"), (Role.PLANNER, Role.BUYER)),
    Entry("receive", _("Deliveries"), (Role.TECHNICIAN, Role.BUYER)),
    Entry("forecast-record", _("How good were forecasts"), (Role.PLANNER, Role.BUYER)),
    Entry("score", _("Are we keeping up"), (Role.PLANNER,)),
    Entry("fleet-import", _("Bring in data"), (Role.PLANNER,)),
)


def shell(request: HttpRequest) -> dict[str, object]:
    """Context processor: the entries open to the person signed in, and the depots in sight."""
    user = getattr(request, "user", None)
    facts: dict[str, object] = {"navigation": [], "is_demo": settings.DEMO}
    if isinstance(user, User):
        facts["navigation"] = [
            _item(entry, request.path)
            for entry in ENTRIES
            if not entry.roles or user.has_any_role(*entry.roles)
        ]
        facts["depot_scope"] = _depot_scope(user)
    return facts


def _item(entry: Entry, path: str) -> Item:
    url = reverse(entry.url_name)
    is_current = path == url if url == "/" else path.startswith(url)
    return Item(entry.label, url, is_current)


def _depot_scope(user: User) -> str:
    """The depots in sight in words; queries the database unless the person sees all."""
    if user.is_superuser:
        return _t("All depots")
    names = [str(depot) for depot in user.depots.order_by("code")]
    return ", ".join(names) or _t("All depots")
