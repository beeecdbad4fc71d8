"""Who gets in where: every route and call, as every role and as a stranger, on own and others'."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.http.response import HttpResponseBase
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from fleetdoors.config.api import api
from fleetdoors.models import Depot, Role, User
from inspections.models import CounterReading
from tests.access_factories import Keys, Objects, make_depot_world, make_shared_objects
from tests.factories import NOW, make_user
from tests.machine_factories import make_token
from tests.pages.planner_rows import make_run
from tests.test_architecture import GUARDED, OURS, WITH_KEY, Route

pytestmark = pytest.mark.django_db
OK, MOVED, UNAUTHORISED, FORBIDDEN, NOT_FOUND, WRONG_METHOD = 200, 302, 401, 403, 404, 405
SERVER_ERROR = 500
METHODS = ("get", "post")
OWN, FOREIGN = "KILO", "ZULU"
# What a route's key names. A new route with a key fails the first test until it stands here.
KEY_NAMES: dict[str, tuple[str, ...]] = {
    "depot": (
        "stock-count", "stock-count-new", "stock-sheet", "kit-issue", "depot-hours", "van-list",
        "lot-list", "kit-list",
        "depot-closed-day", "depot-people", "reading-grid", "leaving", "due-sheet", "wall-screen",
    ),
    "truck": ("truck-stays", "truck-hours", "truck-record", "truck-detail"),
    "door": (
        "visit-plan", "inspection-new", "trace-begin", "defect-new", "hold-new", "round-trace",
        "round-visit", "round-door", "reading-new", "fault-new", "task-done-new",
        "counter-exchange", "door-condition", "door-detail",
    ),
    "due task": ("due-why",),
    "lay-up": ("lay-up-end",),
    "spring word": ("spring-word-withdraw",),
    "calendar": ("visit-feed-end",),
    "visit": (
        "visit-detail", "visit-start", "visit-tick", "visit-add-jobs", "visit-hand-over",
        "visit-absent", "visit-check", "visit-close", "visit-sheet", "visit-tick-back",
        "visit-off-plan", "visit-minutes",
    ),
    "invoice": ("invoice-back",),
    "inspection": ("inspection-detail",),
    "measurement": ("measurement-correct",),
    "trace": ("trace", "trace-answer", "trace-undo", "trace-fault"),
    "report": ("defect-detail",),
    "attachment": ("attachment-file",),
    "hold": ("hold-lift",),
    "follow-up": ("follow-up-drop",),
    "reading": (
        "reading-saved", "reading-accept", "reading-correct", "reading-hold", "reading-answer",
    ),
    "fault": ("fault-detail", "fault-correct"),
    "task done": ("task-done-correct",),
    "part used": ("part-used-correct",),
    "fitted part": ("fitment-back",),
    "look": ("one-off-look-back",),
    "stock": ("stock-move", "transfer-new", "stock-ledger"),
    "van": ("van-load",),
    "movement": ("movement-undo",),
    "reservation": ("reservation-free",),
    "transfer": ("transfer-receive", "transfer-back"),
    "order": (
        "order-detail", "order-line-new", "order-place", "order-remind", "order-charge",
        "order-call-off", "order-csv", "order-workbook",
    ),
    "order line": ("receive-line", "order-line-strike", "order-line-day", "order-line-off"),
    "receipt": ("receipt-undo",),
    "claim": ("claim-detail",),
    "announced change": ("announced-cancel",),
    "proposal": (
        "schedule-move", "schedule-release", "schedule-accept", "schedule-put-away",
    ),
    "accepted plan": ("schedule-take-back",),
    "plan run": ("schedule-progress",),
    "upload": ("fleet-import-preview", "fleet-import-confirm", "fleet-import-errors",
               "fleet-work-progress", "fleet-export-made", "fleet-export-file"),
    # What belongs to the whole fleet: everybody with the role sees it, whatever their depots.
    "door model": ("document-list", "document-new"),
    "document": ("document-file", "document-replace", "document-withdraw"),
    "check": ("one-off-check", "one-off-close"),
    "part": ("receive-part", "part-detail"),
    "supplier": ("supplier-detail",),
    "component": ("component-detail",),
    "task": ("task-detail",),
    "task change": ("task-change-undo",),
    "token": ("machine-token-revoke",),
    "kind of change": ("announced-new",),
}  # fmt: skip
# Addresses that hold their own secret, or say nothing of what they lead to.
BY_SECRET = {"door-code", "visit-calendar"}
KIND_OF = {name: kind for kind, names in KEY_NAMES.items() for name in names}
WHOLE_FLEET = {
    "door model", "document", "check", "part", "supplier", "component", "task", "task change",
    "token", "kind of change",
}  # fmt: skip
# Objects of one person: nobody else's, whatever the role and the depots.
OF_ONE_PERSON = {"plan run", "upload"}
# Where whoever sees some depots only is kept out although the role would let them in.
FOR_ALL_DEPOTS = {
    "fleet-import", "first-fleet", "fleet-template", "fleet-export", "fleet-import-preview",
    "fleet-import-confirm", "fleet-import-errors", "fleet-work-progress", "fleet-export-made",
    "fleet-export-file", "task-change-undo",
    "record-changes", "old-records", "machine-tokens", "machine-token-revoke",
}  # fmt: skip
# A colleague's password: this world holds none.
ASKS_FOR_MORE = {"round-people-add"}
OPEN_TO_STRANGERS = {
    "health", "sign-in", "units", "service-worker", "round-offline", "round-entries", "door-code",
    "visit-calendar",
}  # fmt: skip
API_KEYS = {"/api/doors/{door}": "door", "/api/figures/{figure}": "figure"}


@dataclass(frozen=True)
class World:
    """Two depots that have the same, and what belongs to the whole fleet."""

    own: Objects
    foreign: Objects
    shared: Objects

    def url(self, route: Route, objects: Objects) -> str:
        """The address of the route for one depot's object."""
        keys = route_keys(route, objects | self.shared)
        return reverse(str(route.name), kwargs=keys)


def route_keys(route: Route, objects: Objects) -> Keys:
    if not route.arguments:
        return {}
    return objects[KIND_OF[str(route.name)]]


@pytest.fixture(autouse=True)
def _stopped_clock(monkeypatch: pytest.MonkeyPatch, settings: Settings) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    settings.RECOMPUTE_DOORS = "tests.recompute_requests.keep"
    settings.RECOMPUTE_OUTLOOKS = "tests.recompute_requests.keep_outlooks"
    cache.clear()


@pytest.fixture
def world() -> World:
    run = make_run()
    own = make_depot_world(mark=OWN, run=run)
    foreign = make_depot_world(mark=FOREIGN, run=run)
    return World(own, foreign, make_shared_objects())


def browser_of(person: User | None) -> Client:
    client = Client(raise_request_exception=False)
    if person is not None:
        client.force_login(person)
    return client


def person_of_own_depot(role: Role) -> User:
    return make_user(role=role, depots=Depot.objects.filter(code__startswith=OWN))


@contextmanager
def put_back() -> Iterator[None]:
    """Whatever is written within is taken back."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def asked(client: Client, method: str, url: str) -> HttpResponseBase:
    """The answer, with whatever it wrote taken back."""
    with put_back():
        answer: HttpResponseBase = getattr(client, method)(url)
        answer.text_shown = text_of(answer)  # type: ignore[attr-defined]
    return answer


def text_of(answer: HttpResponseBase) -> str:
    """All that an answer says, out of a workbook too."""
    content = b"".join(answer) if answer.streaming else answer.content  # type: ignore[attr-defined]
    if not content.startswith(b"PK"):
        return content.decode(errors="replace")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return "".join(archive.read(name).decode(errors="replace") for name in archive.namelist())


def lets_in(route: Route, role: Role) -> bool:
    rule = route.view.access_rule
    return role == Role.ADMINISTRATOR or role in rule or rule == ("signed in",)


def test_the_table_names_the_key_of_every_route() -> None:
    keyed = {str(route.name) for route in WITH_KEY}
    assert keyed - set(KIND_OF) - BY_SECRET == set(), "say in KEY_NAMES what these keys name"
    assert (set(KIND_OF) | BY_SECRET) - keyed == set()
    assert len(KIND_OF) == sum(map(len, KEY_NAMES.values()))


def test_strangers_are_let_in_at_a_few_addresses_only() -> None:
    found = {route.name for route in OURS if route.view.access_rule == ("strangers",)}
    assert found == OPEN_TO_STRANGERS - {"sign-in"}


def test_a_stranger_sees_nothing_of_what_is_there(world: World) -> None:
    stranger, wrong = browser_of(None), []
    for route in GUARDED:
        for method in METHODS:
            answer = asked(stranger, method, world.url(route, world.own))
            is_sent_away = answer.status_code == MOVED and answer["Location"].startswith(
                reverse("sign-in")
            )
            if not is_sent_away and answer.status_code not in (FORBIDDEN, WRONG_METHOD):
                wrong.append((str(route), method, answer.status_code))
    assert wrong == []


@pytest.mark.parametrize("role", Role.values)
def test_a_role_that_is_not_named_is_kept_out(world: World, role: str) -> None:
    client, wrong, tried = browser_of(make_user(role=Role(role))), [], 0
    for route in GUARDED:
        if lets_in(route, Role(role)):
            continue
        for method in METHODS:
            tried += 1
            answer = asked(client, method, world.url(route, world.own))
            if answer.status_code != FORBIDDEN:
                wrong.append((str(route), method, answer.status_code))
    assert wrong == []
    assert tried or role == Role.ADMINISTRATOR


@pytest.mark.parametrize("role", Role.values)
def test_what_is_another_depots_is_not_there(world: World, role: str) -> None:
    client, leaks, tried = browser_of(person_of_own_depot(Role(role))), [], 0
    for route in WITH_KEY:
        if route.name in BY_SECRET or KIND_OF[str(route.name)] in WHOLE_FLEET:
            continue
        for method in METHODS:
            tried += 1
            answer = asked(client, method, world.url(route, world.foreign))
            if answer.status_code not in (FORBIDDEN, NOT_FOUND, WRONG_METHOD):
                leaks.append((str(route), method, answer.status_code))
            elif FOREIGN in answer.text_shown.replace(world.url(route, world.foreign), ""):  # type: ignore[attr-defined]
                leaks.append((str(route), method, "named in the refusal"))
    assert leaks == []
    assert tried > 100


@pytest.mark.parametrize("role", Role.values)
def test_what_is_ones_own_opens(world: World, role: str) -> None:
    """That the refusals above are for the depot: the same address opens for the own one."""
    client, wrong = browser_of(person_of_own_depot(Role(role))), []
    for route in GUARDED:
        is_for_others = KIND_OF.get(str(route.name)) in OF_ONE_PERSON or route.name in ASKS_FOR_MORE
        if not lets_in(route, Role(role)) or is_for_others:
            continue
        for method in METHODS:
            status = asked(client, method, world.url(route, world.own)).status_code
            if method == "get" and status == WRONG_METHOD:
                continue
            is_refused = status in (FORBIDDEN, NOT_FOUND) and route.name not in FOR_ALL_DEPOTS
            if is_refused or status >= SERVER_ERROR:
                wrong.append((str(route), method, status))
            break
    assert wrong == []


@pytest.mark.parametrize("name", sorted(FOR_ALL_DEPOTS))
def test_what_changes_every_depot_is_for_who_sees_them_all(world: World, name: str) -> None:
    route = next(route for route in OURS if route.name == name)
    role = Role.PLANNER if lets_in(route, Role.PLANNER) else Role.ADMINISTRATOR
    client = browser_of(person_of_own_depot(role))
    url = world.url(route, world.own)
    answers = {asked(client, method, url).status_code for method in METHODS}
    assert answers <= {FORBIDDEN, WRONG_METHOD}
    assert FORBIDDEN in answers


def test_a_code_on_a_door_tells_a_stranger_no_more_than_where_to_report(world: World) -> None:
    answer = asked(browser_of(None), "get", reverse("door-code", kwargs=world.foreign["label"]))
    assert answer.status_code in (OK, MOVED)
    assert "LUB" not in answer.text_shown  # type: ignore[attr-defined]


def operations() -> list[tuple[str, str]]:
    paths: dict[str, Any] = api.get_openapi_schema()["paths"]
    return [(method, path) for path, methods in paths.items() for method in methods]


def test_the_table_names_the_key_of_every_call() -> None:
    assert {path for _method, path in operations() if "{" in path} == set(API_KEYS)


def called(method: str, path: str, secret: str, data: Any = None) -> Any:
    client = Client(
        raise_request_exception=False,
        headers={"Authorization": f"Bearer {secret}"} if secret else {},
    )
    if method == "post":
        return client.post(path, data or {"readings": []}, content_type="application/json")
    return client.get(path, data or {})


@pytest.mark.parametrize(("method", "path"), operations())
def test_a_call_sees_nothing_of_another_depot(world: World, method: str, path: str) -> None:
    door, depot = str(world.foreign["door"]["door"]), str(world.foreign["depot"]["code"])
    secret = make_token(depots=Depot.objects.filter(code__startswith=OWN)).secret
    url = path.replace("{door}", door).replace("{figure}", "usage")
    assert called(method, url, "").status_code == UNAUTHORISED
    for asked_for in ({}, {"depot": depot}, {"door": door}):
        answer = called(method, url, secret, asked_for if method == "get" else None)
        assert answer.status_code < SERVER_ERROR
        rows = answer.json().get("rows", []) if answer.status_code == OK else []
        assert FOREIGN not in str(rows)
    if "{door}" in path:
        assert called(method, url, secret).status_code == NOT_FOUND
        own = path.replace("{door}", str(world.own["door"]["door"]))
        assert called(method, own, secret).status_code == OK


def test_a_reading_of_another_depots_door_is_refused(world: World) -> None:
    secret = make_token(depots=Depot.objects.filter(code__startswith=OWN)).secret
    row = {"client_id": "a", "read_at": "2026-11-25T06:00", "counter_value": 99_000}
    before = CounterReading.objects.count()
    sent = {"readings": [row | {"door": world.foreign["door"]["door"]}]}
    answer = called("post", reverse("api:readings"), secret, sent).json()
    assert (answer["taken"], answer["refused"]) == (0, 1)
    assert CounterReading.objects.count() == before
    sent = {"readings": [row | {"door": world.own["door"]["door"]}]}
    assert called("post", reverse("api:readings"), secret, sent).json()["taken"] == 1
