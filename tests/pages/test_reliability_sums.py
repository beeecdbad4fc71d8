"""Sums of very many doors: what is kept is what would be worked out, and what is stale is said."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from analytics.assessment import rises
from analytics.assessment.reliability_json import figures_from_json, to_json
from analytics.models import Computation, PeriodUse, ReliabilitySums
from analytics.models.reliability_sums import key_of
from analytics.recompute import recompute_doors, reliability_sums
from analytics.reports.reliability_scope import fetch_scope
from fleetdoors.models import Component, Depot, Role
from tests.factories import NOW, component, make_depot
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_failures, make_running_door, make_wearing_fleet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]


@pytest.fixture
def many_doors(monkeypatch: pytest.MonkeyPatch) -> tuple[Depot, Depot]:
    """Two depots whose doors count as very many, with their figures."""
    monkeypatch.setattr(reliability_sums, "DOORS_FOR_STORED_SUMS", 6)
    north, south = make_depot(code="N"), make_depot(code="S")
    make_wearing_fleet(doors=8, depot=north)
    for k in range(7):
        door = make_running_door(depot=south, route_kind="parcel" if k % 2 else "")
        make_failures(door=door, what=component("fuse"), ages=[3_000, 9_000], hours=k)
    return north, south


def kept_and_live(depots: tuple[int, ...] | None, what: Component | None, by: str) -> list[Any]:
    """The figures by both ways, without the groupings that only the kept ones have."""
    kept = fetch_scope(depots, what, by).figures
    ReliabilitySums.objects.all().delete()
    live = fetch_scope(depots, what, by).figures
    return [
        to_json(each) | {"groups": {name: to_json(each.groups[name]) for name in live.groups}}
        for each in (kept, live)
    ]


@pytest.mark.parametrize("by", ["component", "door_model", "depot", "route_kind"])
@pytest.mark.parametrize("code", ["", "fuse", "track"])
@pytest.mark.parametrize("of_south", [False, True])
def test_what_is_kept_is_what_would_be_worked_out(
    many_doors: tuple[Depot, Depot], by: str, code: str, *, of_south: bool
) -> None:
    compute()
    depots = (many_doors[1].pk,) if of_south else None
    assert ReliabilitySums.objects.current().of(depots, None).exists()
    kept, live = kept_and_live(depots, component(code) if code else None, by)
    assert kept["doors"] == (7 if of_south else 15)
    assert rounded(kept) == rounded(live)


def rounded(value: Any) -> Any:
    """Numbers to eight digits: cycles by period are kept to a tenth."""
    if isinstance(value, dict):
        return {key: rounded(each) for key, each in value.items()}
    if isinstance(value, list):
        return [rounded(each) for each in value]
    return float(f"{value:.8g}") if isinstance(value, float) else value


def test_figures_come_back_from_json_as_they_were(many_doors: tuple[Depot, Depot]) -> None:
    compute()
    figures = fetch_scope(None, None, "depot").figures
    assert to_json(figures_from_json(to_json(figures))) == to_json(figures)


def test_a_few_doors_are_added_up_on_the_page(sign_in: SignIn) -> None:
    make_wearing_fleet(doors=3, depot=make_depot())
    compute()
    assert not ReliabilitySums.objects.exists()
    assert PeriodUse.objects.current().count() == 3  # each door is of a model of its own
    assert "changed" not in lead(sign_in())


def test_depots_to_which_somebody_is_limited_are_kept_together(
    many_doors: tuple[Depot, Depot], sign_in: SignIn
) -> None:
    third = make_depot()
    sign_in(Role.PLANNER, depots=(many_doors[0], third))
    compute()
    sums = ReliabilitySums.objects.current()
    both = (many_doors[0].pk, third.pk)
    assert sums.of(both, None).get().depots == key_of(both)
    assert not sums.of((third.pk,), None).exists()


def test_one_door_anew_marks_the_sums_that_hold_it(
    many_doors: tuple[Depot, Depot], sign_in: SignIn
) -> None:
    north, south = many_doors
    compute()
    door = make_running_door(depot=north)
    make_failures(door=door, what=component("fuse"), ages=[2_000])
    recompute_doors([door.pk], as_of=NOW)
    sums = ReliabilitySums.objects.current()
    assert sums.of(None, None).get().doors_changed == 1
    assert sums.of((north.pk,), component("fuse").pk).get().doors_changed == 1
    assert sums.of((south.pk,), None).get().doors_changed == 0
    client = sign_in()
    assert "Since then the record of 1 door has changed" in lead(client)
    assert "changed" not in lead(client, depot="S")
    compute()
    assert "changed" not in lead(client)


def lead(client: Client, **asked: str) -> str:
    answer = client.get("/reliability/", asked)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split("<main", 1)[1].split("<nav", 1)[0].split())


def test_a_kept_page_asks_for_no_door(many_doors: tuple[Depot, Depot], sign_in: SignIn) -> None:
    compute()
    client = sign_in()
    client.get("/reliability/")
    with CaptureQueriesContext(connection) as queries:
        client.get("/reliability/?by=depot")
    asked = " ".join(query["sql"] for query in queries)
    assert "analytics_reliabilitysums" in asked
    assert "analytics_doorfigures" not in asked
    assert "analytics_doorfailure" not in asked


def test_a_new_run_sweeps_away_what_was_kept(many_doors: tuple[Depot, Depot]) -> None:
    compute()
    compute()
    shown = Computation.objects.current().get()
    for model in (ReliabilitySums, PeriodUse):
        assert set(model.objects.values_list("generation", flat=True)) == {shown.pk}


def test_what_fails_more_often_is_named_with_its_week_and_its_worth(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The fleet of the tests has twenty periods on record, thirteen of which are watched.
    monkeypatch.setattr(rises, "FEWEST_PERIODS_BEFORE", 5)
    depot = make_depot()
    doors = [make_running_door(depot=depot) for _door in range(6)]
    for k, door in enumerate(doors):
        steady = [900 + 2_000 * step + 333 * k for step in range(9)]
        make_failures(door=door, what=component("fuse"), ages=steady)
        # The last twelve weeks: 250 cycles a week.
        crowded = [17_100 + 320 * step + 40 * k for step in range(8)]
        make_failures(door=door, what=component("converter"), ages=[1_500 + 900 * k, *crowded])
    compute()
    text = body(sign_in())
    assert "More often than before" not in text
    for k, door in enumerate(doors):
        early = [700 + 2_300 * step + 383 * k for step in range(5)]
        make_failures(door=door, what=component("converter"), ages=early)
    compute()
    text = body(sign_in())
    assert "Converter fails more often than before, since about the week of" in text
    assert "Fuse fails more often" not in text
    assert "a group is named by chance about once in 50 years" in text


def body(client: Client) -> str:
    answer = client.get("/reliability/")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())
