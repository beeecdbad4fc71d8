"""The navigation: one entry per question, for the person who asks it."""

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Role


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
    Entry("due-list", _("What is due")),
    Entry("door-list", _("Doors")),
    Entry("reliability", _("How doors last"), (Role.PLANNER, Role.BUYER)),
    Entry("part-list", _("Parts to buy"), (Role.PLANNER, Role.BUYER)),
    Entry("fleet-import", _("Bring in data"), (Role.PLANNER,)),
)


def navigation(request: HttpRequest) -> dict[str, list[Item]]:
    """Context processor: the entries open to the person signed in."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"navigation": []}
    items = []
    for entry in ENTRIES:
        if entry.roles and not user.has_any_role(*entry.roles):
            continue
        url = reverse(entry.url_name)
        at_home = url == "/"
        current = request.path == url if at_home else request.path.startswith(url)
        items.append(Item(entry.label, url, current))
    return {"navigation": items}
