"""The shell around every page: one entry per question, for the person who asks it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from fleetdoors.demo_people import is_demo_folder
from fleetdoors.measures import System
from fleetdoors.models import Role, User
from fleetdoors.units_in_use import system_in_use


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


PLANNER, TECHNICIAN, BUYER, ADMINISTRATOR = (
    Role.PLANNER,
    Role.TECHNICIAN,
    Role.BUYER,
    Role.ADMINISTRATOR,
)
# Few words in the shell: what each person asks every day. The rest stands on one page.
ENTRIES = (
    Entry("today", _("Today")),
    Entry("round", _("Visits"), (TECHNICIAN, PLANNER)),
    Entry("due-list", _("What is due")),
    Entry("schedule", _("The week's plan"), (PLANNER,)),
    Entry("door-list", _("Doors")),
    Entry("reliability", _("How doors last"), (PLANNER, BUYER)),
    Entry("order-today", _("Order today"), (BUYER,)),
    Entry("part-list", _("Parts to buy"), (PLANNER, BUYER)),
    Entry("order-list", _("Orders"), (BUYER,)),
    Entry("receive", _("Deliveries"), (TECHNICIAN, BUYER)),
    Entry("score", _("Are we keeping up"), (PLANNER,)),
    Entry("further", _("Everything else")),
)
FURTHER = (
    (
        _("Day to day"),
        (
            Entry("since", _("What changed since you last looked"), (PLANNER,)),
            Entry("defect-list", _("Drivers' reports and trucks kept"), (PLANNER, TECHNICIAN)),
            Entry("roadside-call", _("A call from the road"), (PLANNER, TECHNICIAN)),
            Entry("readings-to-settle", _("Readings to settle")),
            Entry("one-off-list", _("One-off checks over many doors"), (PLANNER, TECHNICIAN)),
            Entry("labels", _("Labels for doors"), (PLANNER, TECHNICIAN)),
        ),
    ),
    (
        _("Looking ahead"),
        (
            Entry("work-ahead", _("The year ahead"), (PLANNER,)),
            Entry("task-list", _("Tasks and intervals"), (PLANNER,)),
            Entry("forecast-record", _("How good were forecasts"), (PLANNER, BUYER)),
            Entry("announced-list", _("What is announced"), (PLANNER, BUYER)),
            Entry("budget", _("What parts will cost"), (PLANNER, BUYER)),
            Entry("work-costs", _("What work and outside repairs cost"), (PLANNER, BUYER)),
            Entry("cause-shares", _("Where faults lie, by kind"), (PLANNER, TECHNICIAN)),
        ),
    ),
    (
        _("Stores"),
        (
            Entry("order-today", _("Order today"), (PLANNER,)),
            Entry("order-list", _("Orders"), (PLANNER,)),
            Entry("supplier-list", _("Suppliers and prices"), (PLANNER, BUYER)),
            Entry("transfer-list", _("On the way between depots"), (TECHNICIAN, BUYER)),
            Entry("claim-list", _("Claims and returns"), (PLANNER, BUYER)),
        ),
    ),
    (
        _("Setting up"),
        (
            Entry("first-hour", _("The first hour"), (PLANNER,)),
            Entry("first-fleet", _("One more depot with its trucks"), (PLANNER,)),
            Entry("fleet-import", _("Bring in data, take it along"), (PLANNER,)),
            Entry("visit-feeds", _("Visits in a calendar"), (PLANNER,)),
            Entry("digest", _("Morning mail"), (PLANNER, BUYER)),
            Entry("machine-tokens", _("Other systems"), (ADMINISTRATOR,)),
            Entry("record-changes", _("Changes on record"), (ADMINISTRATOR,)),
            Entry("old-records", _("Records of doors that left"), (ADMINISTRATOR,)),
            Entry("api-page", _("What other systems can ask and post")),
        ),
    ),
)
# Pages that each depot has.
OF_A_DEPOT = (
    Entry("leaving", _("who can leave")),
    Entry("due-sheet", _("due sheet for paper")),
    Entry("wall-screen", _("wall screen")),
    Entry("reading-grid", _("readings from paper"), (PLANNER, TECHNICIAN)),
    Entry("stock-count", _("stock")),
    Entry("depot-hours", _("hours and people"), (PLANNER,)),
)


# What the foot of each page offers instead of the units in use.
OTHER_UNITS = {
    System.METRIC: (System.INCH, _("Inches and pounds")),
    System.INCH: (System.METRIC, _("Millimetres and newtons")),
}


def shell(request: HttpRequest) -> dict[str, object]:
    """Context processor: the entries open to the person signed in, and the depots in sight."""
    user = getattr(request, "user", None)
    is_demo = settings.DEMO and is_demo_folder(settings.DATA_DIR)
    facts: dict[str, object] = {"navigation": [], "is_demo": is_demo, "units": system_in_use()}
    facts["other_units"] = OTHER_UNITS[system_in_use()]
    if isinstance(user, User):
        facts["may_end_demo"] = is_demo and user.has_any_role(ADMINISTRATOR)
        facts["navigation"] = [_item(entry, request.path) for entry in open_to(user, ENTRIES)]
        facts["depot_scope"] = _depot_scope(user)
    return facts


def open_to(user: User, entries: Iterable[Entry]) -> list[Entry]:
    """The entries that the person's role opens."""
    return [entry for entry in entries if not entry.roles or user.has_any_role(*entry.roles)]


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
