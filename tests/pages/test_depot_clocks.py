"""Moments are printed by the clock of the depot that they belong to, never by the server's."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.formats import date_format

from analytics.models import DueState
from fleetdoors.models import Depot, Role
from inspections.models import RoadHold, Visit
from inspections.models.road_hold import HoldReason
from inspections.services.visits import Jobs, plan_visit
from tests.access_factories import make_depot_world, make_shared_objects
from tests.factories import (
    NOW,
    make_depot,
    make_door,
    make_reading,
    make_truck,
    make_user,
)
from tests.pages.conftest import SignIn
from tests.pages.everybody import clients_of_everybody
from tests.pages.planner_rows import make_due, make_figures, make_run
from tests.sheet.pages import samples
from tests.truck_factories import make_hold, make_open_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
ZONES = ("Pacific/Auckland", "America/Los_Angeles")
TAGS = re.compile(r"<(script|style)\b.*?</\1>|<[^>]+>", re.DOTALL)


def visible(page: str) -> str:
    return " ".join(unescape(TAGS.sub(" ", page)).split())


def printed(zone: str) -> str:
    return date_format(NOW.astimezone(ZoneInfo(zone)), "D j M Y, H:i")


@pytest.fixture
def clients() -> dict[str | None, Client]:
    return clients_of_everybody()


@pytest.mark.parametrize("zone", ZONES)
def test_no_page_of_a_depot_prints_a_moment_by_the_clock_of_the_server(
    zone: str, clients: dict[str | None, Client]
) -> None:
    make_depot_world(mark="LIMA", run=make_run())
    make_shared_objects()
    Depot.objects.update(timezone=zone)
    by_server, by_depot = [], set()
    for sample in samples()[0]:
        answer = clients[sample.person].get(sample.url)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        text = visible(answer.content.decode())
        if printed("UTC") in text:
            by_server.append(sample.name)
        if printed(zone) in text:
            by_depot.add(sample.name)
    assert by_server == []
    assert {"door-detail", "visit-detail", "wall-screen", "truck-record", "defect-list"} <= by_depot


DEPOTS = {"AKL": "Pacific/Auckland", "LAX": "America/Los_Angeles", "GMT": "UTC"}
EVENING = datetime(2026, 11, 25, 3, 30, tzinfo=UTC)


@pytest.fixture
def three_depots(monkeypatch: pytest.MonkeyPatch) -> dict[str, Depot]:
    """Depots in three zones at 03:30 UTC: the 24th in Los Angeles, the 25th elsewhere."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: EVENING)
    return {code: make_depot(code=code, timezone=zone) for code, zone in DEPOTS.items()}


def held_since(hold: RoadHold, moment: datetime) -> None:
    RoadHold.objects.filter(pk=hold.pk).update(placed_at=moment)


def on(code: str, moment: datetime = EVENING) -> str:
    return date_format(moment.astimezone(ZoneInfo(DEPOTS[code])), "D j M Y, H:i")


def text_of(client: Client, name: str, *args: object, **query: str) -> str:
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return visible(answer.content.decode())


def test_lists_over_depots_print_each_moment_by_its_own_depot(
    three_depots: dict[str, Depot], sign_in: SignIn
) -> None:
    for code, depot in three_depots.items():
        door = make_door(serial=f"D-{code}", truck=make_truck(fleet_number=code, depot=depot))
        held_since(make_hold(door=door), EVENING)
    page = text_of(sign_in(Role.TECHNICIAN), "defect-list")
    for code in DEPOTS:
        assert on(code) in page, code


@pytest.mark.parametrize(
    ("code", "today"), [("AKL", "2026-11-25"), ("LAX", "2026-11-24"), ("GMT", "2026-11-25")]
)
def test_today_on_a_depots_pages_and_files_is_the_depots(
    three_depots: dict[str, Depot], sign_in: SignIn, code: str, today: str
) -> None:
    depot = three_depots[code]
    door = make_door(serial=f"D-{code}", truck=make_truck(fleet_number=code, depot=depot))
    run = make_run(as_of=EVENING)
    make_figures(run=run, door=door)
    make_due(run=run, door=door, state=DueState.SOON, due_on=date(2026, 11, 25))
    make_reading(door=door, counter_value=4_870, read_at=EVENING)
    visit = make_open_visit(door=door, technician=make_user())
    Visit.objects.filter(pk=visit.pk).update(started_at=EVENING, planned_on=date(2026, 11, 25))
    planner = sign_in(Role.PLANNER)
    for page in (
        text_of(planner, "door-detail", door.serial),
        text_of(planner, "visit-sheet", visit.pk),
        text_of(planner, "wall-screen", depot.code),
        text_of(planner, "truck-record", code),
    ):
        assert on(code) in page
        assert on(code) == on("GMT") or on("GMT") not in page
    csv = planner.get(reverse("due-csv"), {"depot": code})
    assert f"due-{today}.csv" in csv["Content-Disposition"]


def test_a_visit_is_on_the_round_on_its_own_depots_day(
    three_depots: dict[str, Depot], sign_in: SignIn
) -> None:
    for code, depot in three_depots.items():
        door = make_door(serial=f"D-{code}", truck=make_truck(fleet_number=code, depot=depot))
        plan_visit(
            door=door,
            planned_on=date(2026, 11, 25),
            technician=None,
            jobs=Jobs(),
            entered_at=EVENING,
            entered_by=None,
        )
    page = text_of(sign_in(Role.TECHNICIAN), "round")
    assert "D-AKL" in page
    assert "D-GMT" in page
    assert "D-LAX" not in page, "it is still the day before in Los Angeles"


def test_a_reader_of_one_depot_reads_all_by_its_clock(
    three_depots: dict[str, Depot], sign_in: SignIn
) -> None:
    make_door(truck=make_truck(depot=three_depots["LAX"]))
    make_run(as_of=EVENING)
    page = text_of(sign_in(Role.PLANNER, depots=[three_depots["LAX"]]), "due-list")
    assert on("LAX") in page
    assert on("GMT") not in page


def test_a_refusal_names_the_moment_by_the_clock_of_the_door(
    three_depots: dict[str, Depot], sign_in: SignIn
) -> None:
    door = make_door(truck=make_truck(depot=three_depots["LAX"]))
    hold = make_hold(door=door, because=HoldReason.REVERSE)
    held_since(hold, EVENING + timedelta(hours=1))
    page = sign_in(Role.TECHNICIAN).post(
        reverse("hold-lift", args=[hold.pk]),
        {"signed_by": "Kit", "signed_role": "technician", "what_was_done": "Cable renewed"},
    )
    assert "2026-11-24 20:30" in page.content.decode()
