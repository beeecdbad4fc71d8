"""Every page of the program with an object of the fleet at hand, from the routes themselves.

`main` prints the pages of an installation's own database, with what each one weighs.
"""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from html.parser import HTMLParser
from time import perf_counter
from typing import Any

from django.db import connection, models
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.forms.announced import FORMS
from analytics.models import DueTask, PlanRun, Proposal
from fleetdoors.models import (
    Component,
    Depot,
    DoorModel,
    DoorUnit,
    Fitment,
    LayUp,
    MachineToken,
    MaintenanceTask,
    Mounting,
    Part,
    Role,
    TaskChange,
    Truck,
    User,
)
from inspections import models as work
from tests.test_access import KEY_NAMES, Keys
from tests.test_architecture import OURS, Route

OK = 200
# Pages that everyone signed in may open are shown as the person whose question they answer.
BUYERS_OWN = ("stock-", "van-", "lot-", "kit-")
SECRETS = {"door-code": "label"}
# What is read by programs, not by people, or asks for a key that is shown once only.
NOT_PAGES = {"visit-calendar"}
_KIND_OF = {name: kind for kind, names in KEY_NAMES.items() for name in names} | SECRETS


@dataclass(frozen=True)
class Sample:
    """A page as one person opens it: a route, with an object where it asks for one."""

    name: str
    url: str
    person: str | None


@dataclass(frozen=True)
class Weighed:
    """What a page costs the server: it is printed, and only counts and bytes are asserted."""

    name: str
    url: str
    person: str | None
    queries: int
    kilobytes: float
    milliseconds: float
    has_chart: bool


class _Charts(HTMLParser):
    """Whether a page draws a chart with the library."""

    found = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look for the attribute that the chart script starts from."""
        self.found |= any(name == "data-chart" for name, _value in attrs)


def person_for(route: Route) -> str | None:
    """The role whose question a page answers, or nobody for a stranger's page."""
    rule = route.view.access_rule
    if rule == ("strangers",):
        return None
    if rule == ("signed in",):
        is_buyers = str(route.name).startswith(BUYERS_OWN)
        return Role.BUYER.value if is_buyers else Role.PLANNER.value
    return str(rule[0])


def samples(routes: Iterable[Route] = OURS) -> tuple[list[Sample], list[str]]:
    """A sample of each route, and the routes for which the fleet has no object."""
    found, without = [], []
    for route in routes:
        name = str(route.name)
        if name in NOT_PAGES:
            continue
        several = keys_for(_KIND_OF[name]) if route.arguments else [{}]
        if not several:
            without.append(name)
        person = person_for(route)
        found += [Sample(name, reverse(name, kwargs=keys), person) for keys in several]
    return found, without


def keys_for(kind: str) -> list[Keys]:
    """Objects of a kind that this database has, as addresses name them; mostly one is enough."""
    if kind == "kind of change":
        return [{"kind": form} for form in FORMS]
    found = _FIND[kind]()
    return [found] if found else []


def weighed(sample: Sample, client: Client) -> Weighed | None:
    """What a page costs, or nothing for an answer that is no whole page."""
    begun = perf_counter()
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(sample.url, headers={"host": "localhost"})
    took = 1_000 * (perf_counter() - begun)
    is_text = answer["Content-Type"].startswith("text/html") if answer.status_code == OK else False
    if not is_text or answer.content.lstrip()[:9].lower() != b"<!doctype":
        return None
    charts = _Charts()
    charts.feed(answer.content.decode())
    size = len(answer.content) / 1_000
    return Weighed(**asdict(sample), queries=len(asked), kilobytes=size, milliseconds=took,
                   has_chart=charts.found)  # fmt: skip


def all_weighed(clients: Callable[[str | None], Client]) -> tuple[list[Weighed], list[str]]:
    """Every page of the fleet at hand, weighed, and the routes without an object."""
    found, without = samples()
    pages = (weighed(sample, clients(sample.person)) for sample in found)
    return [page for page in pages if page], without


def _pk(rows: models.QuerySet[Any]) -> Keys | None:
    row = rows.order_by("-pk").first()
    return {"pk": row.pk} if row else None


def _named(rows: models.QuerySet[Any], **keys: str) -> Keys | None:
    """The first row's values, under the names that the address has for them."""
    row = rows.values(*keys.values()).first()
    return {key: row[column] for key, column in keys.items()} if row else None


def _of(model: Any, **filters: object) -> Callable[[], Keys | None]:
    """An object of a model by its number, the newest; one that the filters name if there is."""
    rows = model._default_manager
    return lambda: _pk(rows.filter(**filters)) or _pk(rows.all())


def _by(model: Any, **keys: str) -> Callable[[], Keys | None]:
    return lambda: _named(model._default_manager.order_by(*keys.values()), **keys)


def _door() -> Keys | None:
    """A mounted door with late work, if one is."""
    late = DueTask.objects.order_by("pk").values(serial=models.F("door__serial"))
    mounted = Mounting.objects.open().order_by("pk").values(serial=models.F("door__serial"))
    row = late.first() or mounted.first() or DoorUnit.objects.values("serial").first()
    return {"door": row["serial"]} if row else None


def _due_task() -> Keys | None:
    return _named(DueTask.objects.order_by("pk"), door="door__serial", task="task__code")


def _van() -> Keys | None:
    vans = work.StockPlace.objects.filter(kind="van").order_by("pk")
    return _named(vans, code="depot__code", pk="pk")


def _upload() -> None:
    """What somebody is bringing in belongs to that person, and is gone after a while."""


_FIND: dict[str, Callable[[], Keys | None]] = {
    "depot": _by(Depot, code="code"),
    "truck": _by(Truck, truck="fleet_number"),
    "door": _door,
    "due task": _due_task,
    "lay-up": _of(LayUp),
    "label": _by(work.DoorLabel, code="code"),
    "spring word": _of(work.SpringAuthorisation),
    "calendar": _of(work.VisitFeed),
    "visit": _of(work.Visit, closed_at=None),
    "invoice": _of(work.OutsideInvoice),
    "inspection": _of(work.Inspection),
    "measurement": _of(work.Measurement),
    "trace": _of(work.FaultTrace),
    "report": _of(work.DefectReport),
    "attachment": lambda: _pk(work.Attachment.objects.filter(door_model=None)),
    "hold": _of(work.RoadHold),
    "follow-up": _of(work.FollowUp),
    "reading": _of(work.CounterReading),
    "fault": _of(work.Fault),
    "task done": _of(work.TaskDone),
    "fitted part": _of(Fitment, superseded_at=None),
    "part used": _of(work.PartUsed),
    "look": _of(work.OneOffLook),
    "stock": _by(work.StockBalance, code="place__depot__code", part="part__part_number"),
    "van": _van,
    "movement": _of(work.StockMovement),
    "reservation": _of(work.PartReservation),
    "transfer": _of(work.StockTransfer),
    "order": _by(work.PurchaseOrder, number="number"),
    "order line": _of(work.OrderLine),
    "receipt": _of(work.OrderReceipt),
    "claim": _of(work.PartReturn),
    "announced change": _of(work.AnnouncedChange),
    "proposal": _of(Proposal),
    "accepted plan": _of(work.PlanAcceptance),
    "plan run": _of(PlanRun),
    "upload": _upload,
    "door model": _by(DoorModel, code="code"),
    "document": lambda: _pk(work.Attachment.objects.exclude(door_model=None)),
    "check": _of(work.OneOffCheck),
    "part": _by(Part, part="part_number"),
    "supplier": _by(work.Supplier, code="code"),
    "component": _by(Component, component="code"),
    "task": _by(MaintenanceTask, code="code"),
    "task change": _of(TaskChange),
    "token": _of(MachineToken),
}


def main() -> None:
    """Print every page of this installation as JSON, and the routes without an object."""
    logging.disable(logging.WARNING)
    clients: dict[str | None, Client] = {None: Client()}
    for role in Role.values:
        clients[role] = Client()
        clients[role].force_login(
            User.objects.filter(role=role).order_by("pk")[0],
            backend="django.contrib.auth.backends.ModelBackend",
        )
    found, without = all_weighed(clients.__getitem__)
    sys.stdout.write("\n")
    json.dump({"pages": [asdict(page) for page in found], "without": without}, sys.stdout)
