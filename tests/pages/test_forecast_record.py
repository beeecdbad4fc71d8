"""How good the forecasts were: the page, its empty states, and asking for a check."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.checking import running
from analytics.models import ForecastCheck, ForecastKind, ForecastScore
from fleetdoors.models import Depot, Part, Role
from tests.factories import NOW, component, make_depot, make_part
from tests.pages.conftest import SignIn

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
PAGE = "/forecast-record/"
FACTOR = {
    "factor": 1.62,
    "weight": 200.0,
    "dispersion": 1.1,
    "chance_much_faster": 0.99,
    "alert": True,
    "weeks": 52,
}


def make_check(*, origins: int = 13, doors: int = 240, on_record: int = 240) -> ForecastCheck:
    return ForecastCheck.objects.create(
        as_of=NOW,
        started_at=NOW,
        finished_at=NOW + timedelta(seconds=9),
        origins=origins,
        origins_done=origins,
        first_origin_on=NOW.date() - timedelta(days=28 * 13),
        last_origin_on=NOW.date() - timedelta(days=28),
        doors=doors,
        doors_on_record=on_record,
        factors={"converter": FACTOR, "roller": FACTOR | {"factor": 0.99, "alert": False}},
    )


def make_score(
    check: ForecastCheck,
    depot: Depot,
    *,
    part: Part | None = None,
    forecasts: int = 100,
    inside: int = 80,
    error: float = 900.0,
    naive_error: float = 1_500.0,
) -> ForecastScore:
    return ForecastScore.objects.create(
        forecast_check=check,
        kind=ForecastKind.DUE_DATE if part is None else ForecastKind.DEMAND,
        depot=depot,
        part=part,
        forecasts=forecasts,
        inside=inside,
        error=error,
        naive_error=naive_error,
        expected=41.0,
        actual=38.0,
    )


def text_of(client: Client) -> str:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_before_the_first_check_it_says_what_is_missing(sign_in: SignIn) -> None:
    page = text_of(sign_in())
    assert "Not yet checked" in page
    assert "have not been repeated yet" in page
    assert "Check anew" in page


def test_a_short_record_says_so(sign_in: SignIn) -> None:
    make_check(origins=0)
    assert "The record is too short" in text_of(sign_in(Role.BUYER))


def test_due_dates_by_depot_against_the_last_two_readings(sign_in: SignIn) -> None:
    check, north, south = make_check(), make_depot(code="North"), make_depot(code="South")
    many = {"forecasts": 1_000, "error": 9_000.0, "naive_error": 15_000.0}
    make_score(check, north, inside=800, **many)
    make_score(check, south, **many | {"inside": 600, "error": 20_000.0, "naive_error": 10_000.0})
    page = text_of(sign_in())
    assert "Of 2,000 forecast due dates 70 % were reached inside a range meant to hold 80 %" in page
    assert "the program was too sure, its ranges too narrow" in page
    assert "off by 14.5 days on average" in page
    assert "by 12.5." in page
    assert ">too narrow<" in page
    assert ">as meant<" in page
    assert "40 % nearer" in page
    assert "further off" in page


def test_what_chance_may_do_is_not_held_against_the_ranges(sign_in: SignIn) -> None:
    make_score(make_check(), make_depot(), forecasts=60, inside=40)
    assert "the program was as sure as it said" in text_of(sign_in())


def test_ranges_that_hold_nearly_always_were_too_wide(sign_in: SignIn) -> None:
    make_score(make_check(), make_depot(), forecasts=1_000, inside=980)
    assert "too cautious, its ranges wider than need be" in text_of(sign_in())


def test_few_forecasts_are_not_judged(sign_in: SignIn) -> None:
    make_score(make_check(), make_depot(), forecasts=12, inside=3)
    assert "too few to say" in text_of(sign_in())


def test_demand_by_part_is_added_up_over_depots(sign_in: SignIn) -> None:
    check, part = make_check(), make_part(part_number="FD-7")
    for depot in (make_depot(), make_depot()):
        make_score(check, depot, part=part, inside=91, error=180.0, naive_error=180.0)
    page = text_of(sign_in(Role.BUYER))
    assert "Of 200 forecasts of twelve weeks" in page
    assert "91 % came out inside" in page
    assert reverse("part-detail", args=["FD-7"]) in page
    assert ">82<" in page  # expected at both depots
    assert "about as near" in page
    assert "No range of a forecast due date has passed yet" in page
    assert "Check anew" not in page


def test_parts_that_fail_faster_than_their_age_says_ask_for_a_look(sign_in: SignIn) -> None:
    component("converter")
    make_score(make_check(), make_depot())
    page = text_of(sign_in())
    assert ">1.62<" in page
    assert "look for a new revision" in page
    assert "as its age says" in page


def test_only_depots_in_sight_are_added_up(sign_in: SignIn) -> None:
    check, own, other = make_check(), make_depot(code="OWN"), make_depot(code="OTHER")
    make_score(check, own)
    make_score(check, other, forecasts=500, inside=500)
    page = text_of(sign_in(depots=[own]))
    assert "Of 100 forecast due dates" in page
    assert "OTHER" not in page


def test_a_very_large_fleet_says_how_many_doors_were_looked_at(sign_in: SignIn) -> None:
    make_score(make_check(doors=10_000, on_record=100_000), make_depot())
    assert "On 10,000 of 100,000 doors" in text_of(sign_in())


def test_queries_do_not_grow_with_rows(sign_in: SignIn) -> None:
    check, client = make_check(), sign_in()

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            text_of(client)
        return len(queries)

    make_score(check, make_depot(), part=make_part())
    few = asked()
    for _ in range(3):
        depot = make_depot()
        make_score(check, depot)
        make_score(check, depot, part=make_part())
    assert asked() == few


def test_it_is_the_planners_and_the_buyers(sign_in: SignIn) -> None:
    assert sign_in(Role.TECHNICIAN).get(PAGE).status_code == 403


def test_a_planner_asks_for_a_check(sign_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []
    monkeypatch.setattr(running.Thread, "start", lambda thread: begun.append(thread.name))
    answer = sign_in().post(reverse("check-forecasts"))
    assert answer.headers["Location"] == reverse("forecast-check")
    assert begun == ["check_forecasts"]
    assert sign_in(Role.BUYER).post(reverse("check-forecasts")).status_code == 403


def test_a_running_check_is_shown_and_not_begun_twice(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = []
    monkeypatch.setattr(running.Thread, "start", lambda thread: begun.append(thread.name))
    ForecastCheck.objects.create(as_of=NOW, started_at=NOW, origins=13, origins_done=4)
    client = sign_in()
    client.post(reverse("check-forecasts"))
    assert begun == []
    page = text_of(client)
    assert "4 of 13" in page
    assert "Check anew" not in page
    fragment = client.get(reverse("forecast-check"), headers={"HX-Request": "true"})
    assert "<html" not in fragment.content.decode()
    assert "How far is the check" in client.get(reverse("forecast-check")).content.decode()


def test_without_a_running_check_the_progress_leads_on(sign_in: SignIn) -> None:
    assert "No check is running" in sign_in().get(reverse("forecast-check")).content.decode()


def test_which_depots_and_parts_held_is_said_in_a_sentence(sign_in: SignIn) -> None:
    check = make_check()
    for code, inside in (("North", 800), ("South", 600), ("East", 990)):
        make_score(check, make_depot(code=code), forecasts=1_000, inside=inside)
    make_score(check, make_depot(code="West"), forecasts=9, inside=2)
    page = text_of(sign_in())
    assert "Ranges held as meant for 1 of 3." in page
    assert "Too narrow, so be on the safe side: Depot South." in page
    assert "Wider than need be: Depot East." in page
    assert "Too few to say: Depot West." in page


def test_many_parts_are_not_all_named(sign_in: SignIn) -> None:
    check, depot = make_check(), make_depot()
    for k in range(8):
        part = make_part(part_number=f"FD-{k}", name=f"Thing {k}")
        make_score(check, depot, part=part, forecasts=12, inside=2)
    assert "None has forecasts enough to be judged: it takes 30." in text_of(sign_in())
    for k in range(8, 16):
        part = make_part(part_number=f"FD-{k}", name=f"Thing {k}")
        make_score(check, depot, part=part, forecasts=200, inside=100)
    assert "and 3 more" in text_of(sign_in())
