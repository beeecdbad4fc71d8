"""The interface for other systems: rights, depots, pages of rows, and the walk over all of it."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from fleetdoors.api.call_limit import CallsAMinute
from fleetdoors.config.api import api
from fleetdoors.models import Depot
from tests.factories import NOW, make_depot, make_part, make_stock_count
from tests.machine_factories import make_token
from tests.pages.running_fleet import compute, make_running_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
OK, UNAUTHORISED, FORBIDDEN, NOT_FOUND, UNPROCESSABLE, TOO_MANY = 200, 401, 403, 404, 422, 429
OPERATIONS = [
    (method, path.replace("{door}", "RD1").replace("{figure}", "usage"))
    for path, methods in api.get_openapi_schema()["paths"].items()
    for method in methods
]
READS = [path for method, path in OPERATIONS if method == "get"]


def call(path: str, secret: str = "", method: str = "get", data: Any = None) -> Any:
    headers = {"Authorization": f"Bearer {secret}"} if secret else {}
    client = Client(headers=headers)
    if method == "post":
        return client.post(path, data or {}, content_type="application/json")
    return client.get(path, data or {})


@pytest.fixture(autouse=True)
def _no_calls_counted() -> None:
    cache.clear()


@pytest.fixture
def two_depots() -> None:
    north, south = make_depot(code="NORTH"), make_depot(code="SOUTH")
    make_running_door(serial="RD1", depot=north)
    make_running_door(serial="RD2", depot=south)
    make_running_door(serial="RD3", depot=north)
    part = make_part()
    make_stock_count(depot=north, part=part)
    make_stock_count(depot=south, part=part)
    compute()


def token_of(code: str) -> str:
    return make_token(depots=[Depot.objects.get(code=code)]).secret


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
@pytest.mark.parametrize("secret", ["", "fld_unknown"], ids=["none", "unknown"])
def test_nothing_answers_without_a_token_in_force(method: str, path: str, secret: str) -> None:
    assert call(path, secret, method).status_code == UNAUTHORISED


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_a_token_does_what_it_was_issued_for_and_no_more(method: str, path: str) -> None:
    reads, posts = make_token(may_post_readings=False), make_token(may_read=False)
    other = posts if method == "get" else reads
    assert call(path, other.secret, method).status_code == FORBIDDEN


def test_a_session_of_a_person_is_no_token(client: Client, django_user_model: Any) -> None:
    client.force_login(django_user_model.objects.create_superuser("root", password="long enough"))
    assert {client.get(path).status_code for path in READS} == {UNAUTHORISED}


def test_posted_readings_are_answered_row_by_row(two_depots: None) -> None:
    row = {"client_id": "a", "door": "RD1", "read_at": "2026-11-25T06:00", "counter_value": 99_000}
    batch = {"readings": [row, row | {"client_id": "b", "door": "NO"}]}
    secret = make_token().secret
    first = call("/api/readings", secret, "post", batch).json()
    again = call("/api/readings", secret, "post", batch).json()
    assert (first["taken"], first["refused"]) == (1, 1)
    assert (again["taken"], again["taken_before"]) == (0, 1)
    assert "No door" in first["rows"][1]["reason"]


@pytest.mark.parametrize(
    "batch",
    [
        {"readings": []},
        {"readings": [{"client_id": "a"}]},
        {"readings": [{"client_id": "a", "door": "R", "read_at": "now", "counter_value": 1}]},
        {
            "readings": [
                {"client_id": "", "door": "R", "read_at": "2026-01-01", "counter_value": -1}
            ]
        },
    ],
)
def test_a_batch_that_is_none_says_what_is_wrong(batch: Any) -> None:
    answer = call("/api/readings", make_token().secret, "post", batch)
    assert answer.status_code == UNPROCESSABLE
    assert answer.json()["detail"]


def test_a_batch_is_bounded() -> None:
    row = {"client_id": "a", "door": "RD1", "read_at": "2026-11-25T06:00", "counter_value": 1}
    answer = call("/api/readings", make_token().secret, "post", {"readings": [row] * 501})
    assert answer.status_code == UNPROCESSABLE


def test_doors_come_in_pages(two_depots: None) -> None:
    secret = make_token().secret
    first = call("/api/doors", secret, data={"limit": 2}).json()
    rest = call("/api/doors", secret, data={"limit": 2, "after": first["next_after"]}).json()
    assert [row["door"] for row in first["rows"] + rest["rows"]] == ["RD1", "RD2", "RD3"]
    assert rest["next_after"] is None
    assert first["rows"][0]["cycles_per_day"] > 0


def test_due_tasks_come_by_door(two_depots: None) -> None:
    rows = call("/api/due", make_token().secret, data={"limit": 1}).json()["rows"]
    assert {row["door"] for row in rows} == {"RD1"}
    assert {"LUB", "BAL"} <= {row["task"] for row in rows}


def test_a_token_of_one_depot_sees_its_depot_alone(two_depots: None) -> None:
    secret = token_of("SOUTH")
    assert {row["door"] for row in call("/api/doors", secret).json()["rows"]} == {"RD2"}
    assert {row["door"] for row in call("/api/due", secret).json()["rows"]} == {"RD2"}
    assert {row["depot"] for row in call("/api/stock", secret).json()["rows"]} == {"SOUTH"}
    assert call("/api/doors/RD1", secret).status_code == NOT_FOUND
    assert call("/api/doors/RD2", secret).status_code == OK
    for path in ("/api/doors", "/api/due", "/api/stock", "/api/figures/due"):
        assert call(path, secret, data={"depot": "NORTH"}).status_code == NOT_FOUND


def test_a_figure_has_the_rows_of_the_command(two_depots: None) -> None:
    answer = call("/api/figures/usage", make_token().secret, data={"door": "RD1"}).json()
    assert [row["door"] for row in answer["rows"]] == ["RD1"]
    assert answer["rows"][0]["last_read_on"].startswith("2026-11-2")


def test_figures_of_the_whole_fleet_are_not_for_a_token_of_a_part(two_depots: None) -> None:
    secret = token_of("SOUTH")
    assert call("/api/figures/mcbf", secret).status_code == FORBIDDEN
    assert call("/api/figures/usage", secret).status_code == UNPROCESSABLE
    rows = call("/api/figures/usage", secret, data={"depot": "SOUTH"}).json()["rows"]
    assert {row["door"] for row in rows} == {"RD2"}


@pytest.mark.parametrize(
    ("path", "options", "status"),
    [
        ("/api/figures/nothing", {}, NOT_FOUND),
        ("/api/figures/mcbf", {"by": "colour"}, UNPROCESSABLE),
        ("/api/figures/mcbf", {"depot": "NORTH"}, UNPROCESSABLE),
        ("/api/figures/due", {"as_of": "yesterday"}, UNPROCESSABLE),
    ],
)
def test_a_figure_asked_wrongly_says_so(
    two_depots: None, path: str, options: dict[str, str], status: int
) -> None:
    answer = call(path, make_token().secret, data=options)
    assert (answer.status_code, bool(answer.json()["detail"])) == (status, True)


def test_calls_are_counted_by_token_and_minute(monkeypatch: pytest.MonkeyPatch, rf: Any) -> None:
    limit = CallsAMinute(2, of="test")
    clock = [NOW.timestamp()]
    monkeypatch.setattr("fleetdoors.api.call_limit.time.time", lambda: clock[0])
    mine, others = rf.get("/"), rf.get("/")
    mine.auth, others.auth = make_token().token, make_token().token
    assert [limit.allow_request(mine) for _ in range(3)] == [True, True, False]
    assert limit.allow_request(others)
    clock[0] += limit.wait()
    assert limit.allow_request(mine)


def test_too_many_calls_are_told_to_wait() -> None:
    secret = make_token().secret
    answers = [call("/api/figures/nothing", secret) for _ in range(11)]
    assert [answer.status_code for answer in answers[-2:]] == [NOT_FOUND, TOO_MANY]
    assert int(answers[-1]["Retry-After"]) > 0


def test_a_cache_that_is_away_keeps_no_reading_out(
    monkeypatch: pytest.MonkeyPatch, two_depots: None
) -> None:
    def away(*_arguments: object) -> None:
        raise ConnectionError("no Redis")

    monkeypatch.setattr("fleetdoors.api.call_limit.cache.add", away)
    assert call("/api/doors", make_token().secret).status_code == OK


def test_queries_do_not_grow_with_the_rows(
    two_depots: None, django_assert_num_queries: Any
) -> None:
    secret = make_token().secret
    with django_assert_num_queries(3):
        assert len(call("/api/doors", secret, data={"limit": 1}).json()["rows"]) == 1
    with django_assert_num_queries(3):
        assert len(call("/api/doors", secret, data={"limit": 3}).json()["rows"]) == 3


def test_the_description_is_open_to_anyone() -> None:
    assert call(reverse("api:openapi-json")).json()["info"]["title"] == "fleetdoors"
