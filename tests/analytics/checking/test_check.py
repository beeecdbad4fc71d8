"""Past forecasts are repeated from what was known then, scored, and learned from."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from django.core.management import call_command
from django.db.models import Sum

from analytics.assessment.usage import assess_fleet_usage
from analytics.checking import check, check_forecasts
from analytics.checking.demand_scores import DEMAND_DAYS, used_between
from analytics.checking.due_scores import day_reached, due_outcomes
from analytics.checking.origins import known_on, origins_before
from analytics.datasets import fetch_fleet, fetch_parts_record
from analytics.models import ForecastCheck, ForecastKind, ForecastScore
from analytics.synthetic.fleet import FleetPlan
from analytics.synthetic.folder import write_fleet
from fleetdoors.models import DoorUnit
from inspections.models import CounterReading, PartUsed
from inspections.services.fleet_folder.importing import import_fleet
from tests.analytics.asking import ask
from tests.factories import component, make_depot, make_part, make_reading
from tests.pages.running_fleet import FIRST_READ, make_wearing_fleet

pytestmark = pytest.mark.django_db
UNTIL = date(2026, 6, 26)
NOW = datetime(2026, 6, 28, 12, tzinfo=UTC)


def bring_in(tmp_path: Path, doors: int, days: int) -> None:
    folder = tmp_path / "fleet"
    write_fleet(folder, FleetPlan(doors=doors, days=days, seed=11, scenario="demo", until=UNTIL))
    outcome = import_fleet(folder, now=NOW)
    assert not outcome.refused, outcome.problems


def test_a_made_fleet_is_forecast_as_surely_as_said(tmp_path: Path, recompute_requests) -> None:
    """120 doors, two years: ranges hold what they say, and come nearer than the naive methods."""
    bring_in(tmp_path, 120, 730)
    found = check_forecasts(as_of=NOW, started_at=NOW)
    assert (found.origins, found.origins_done, found.doors) == (13, 13, 120)
    assert found.finished_at is not None
    due = ForecastScore.objects.due_dates().aggregate(
        n=Sum("forecasts"), held=Sum("inside"), off=Sum("error"), naive=Sum("naive_error")
    )
    assert due["n"] > 3_000
    assert 0.72 <= due["held"] / due["n"] <= 0.88
    assert due["off"] <= 0.9 * due["naive"]
    demand = ForecastScore.objects.demand().aggregate(
        n=Sum("forecasts"), held=Sum("inside"), expected=Sum("expected"), actual=Sum("actual")
    )
    assert 0.83 <= demand["held"] / demand["n"] <= 0.97
    assert demand["expected"] == pytest.approx(demand["actual"], rel=0.12)
    assert 0.8 <= found.factors["spring"]["factor"] <= 1.25
    assert found.factors["spring"]["weeks"] == 52


def test_what_was_entered_later_changes_no_past_forecast(
    tmp_path: Path, recompute_requests
) -> None:
    bring_in(tmp_path, 30, 400)
    origin = UNTIL - timedelta(days=100)

    def said() -> tuple[list[float], list[float]]:
        then = known_on(origin, None)
        demand = [float(each.over_days(np.array([84.0]))[0][0]) for each in then.demands({})]
        return then.doors.due.due.due_day_by_cycles.tolist(), demand

    before = said()
    door = DoorUnit.objects.order_by("pk")[3]
    last = CounterReading.objects.filter(door=door).order_by("-read_at")[0]
    make_reading(
        door=door,
        counter_value=last.counter_value + 4_000,
        read_at=datetime.combine(origin - timedelta(days=2), last.read_at.timetz()),
        entered_at=NOW,
    )
    PartUsed.objects.filter(used_at__date__gte=origin).delete()
    assert np.array_equal(said()[0], before[0], equal_nan=True)
    assert said()[1] == before[1]


def test_use_is_counted_in_the_twelve_weeks_after_the_date(
    tmp_path: Path, recompute_requests
) -> None:
    """Against a plain query of the database, part by part."""
    bring_in(tmp_path, 30, 400)
    origin = UNTIL - timedelta(days=100)
    then = known_on(origin, None)
    found = used_between(then, fetch_parts_record(fetch_fleet(NOW).doors))
    start = datetime.combine(origin, datetime.min.time(), UTC) - timedelta(days=1)
    rows = PartUsed.objects.filter(
        used_at__gte=start, used_at__lt=start + timedelta(days=DEMAND_DAYS + 2)
    ).select_related("door", "part", "depot")
    zones = {each.pk: each.zone for each in {row.depot for row in rows if row.depot}}
    total = sum(
        row.quantity
        for row in rows
        if row.depot
        and 0 <= (row.used_at.astimezone(zones[row.depot_id]).date() - origin).days < DEMAND_DAYS
    )
    assert sum(found.values()) == total > 20


def test_the_day_of_reaching_cycles_lies_between_the_readings_around() -> None:
    make_wearing_fleet(doors=2, depot=make_depot())
    series = assess_fleet_usage(fetch_fleet(NOW)).series
    own = slice(*series.offsets[:2])
    for cycles in (1_100.0, 7_777.0):
        expected = np.interp(cycles, series.cycles[own], series.day[own])
        assert day_reached(series, np.array([0]), np.array([cycles]))[0] == pytest.approx(expected)
    assert np.isinf(day_reached(series, np.array([0]), np.array([9e8]))[0])


def test_only_forecasts_whose_whole_range_has_passed_are_looked_at() -> None:
    make_wearing_fleet(doors=3, depot=make_depot())
    as_of = FIRST_READ + timedelta(weeks=80)
    fleet = fetch_fleet(as_of)
    series = assess_fleet_usage(fleet).series
    late = known_on((as_of - timedelta(days=1)).date(), None)
    assert len(due_outcomes(late, fleet, series).inside) == 0
    early = known_on((FIRST_READ + timedelta(weeks=14)).date(), None)
    found = due_outcomes(early, fleet, series)
    assert len(found.inside) > 0
    # These doors run evenly: the straight line is right to the day, and so are we.
    assert found.naive_error.max() < 1.0
    assert found.error.max() < 8.0


def test_a_short_record_has_no_past_dates() -> None:
    make_wearing_fleet(doors=1, depot=make_depot())
    fleet = fetch_fleet(FIRST_READ + timedelta(days=130))
    assert origins_before((FIRST_READ + timedelta(days=130)).date(), fleet) == []
    found = check_forecasts(as_of=FIRST_READ, started_at=FIRST_READ)
    assert (found.origins, found.factors) == (0, {})
    assert not ForecastScore.objects.exists()


def test_the_newest_scores_stay_and_every_factor_does(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check, "MOST_DOORS", 4)
    part = make_part(component=component("coil_cable"))
    make_wearing_fleet(doors=12, depot=make_depot(), part=part)
    as_of = FIRST_READ + timedelta(weeks=79)
    first = check_forecasts(as_of=as_of, started_at=as_of)
    second = check_forecasts(as_of=as_of + timedelta(days=1), started_at=as_of)
    assert (second.doors, second.doors_on_record) == (4, 12)
    assert set(ForecastScore.objects.values_list("forecast_check", flat=True)) == {second.pk}
    assert ForecastScore.objects.filter(kind=ForecastKind.DUE_DATE).exists()
    assert ForecastCheck.objects.finished().count() == 2
    assert first.factors


def learned(as_of: datetime, factor: float) -> None:
    kept = {
        "factor": factor,
        "weight": 400.0,
        "dispersion": 1.0,
        "chance_much_faster": 0.0,
        "alert": False,
        "weeks": 52,
    }
    ForecastCheck.objects.create(
        as_of=as_of, started_at=as_of, finished_at=as_of, factors={"coil_cable": kept}
    )


def test_demand_is_multiplied_by_what_past_weeks_taught_by_then() -> None:
    part, depot = make_part(component=component("coil_cable")), make_depot()
    make_wearing_fleet(doors=25, depot=depot, part=part)
    on = (FIRST_READ + timedelta(weeks=80)).date()

    def row(day: date) -> dict[str, object]:
        return next(each for each in ask("demand", f"--as-of={day}") if each["mean"] > 0)

    plain, before = row(on), row(on - timedelta(days=30))
    assert "not yet checked against past weeks" in plain["reason"]
    learned(FIRST_READ + timedelta(weeks=79), 1.5)
    corrected = row(on)
    assert corrected["mean"] == pytest.approx(1.5 * plain["mean"])
    assert corrected["p95"] > plain["p95"]
    assert "parts fail 1.50 times as often as their age says (52 weeks)" in corrected["reason"]
    assert row(on - timedelta(days=30)) == before


def test_the_command_says_what_it_did() -> None:
    make_wearing_fleet(doors=2, depot=make_depot())
    out = StringIO()
    call_command(
        "check_forecasts", f"--as-of={(FIRST_READ + timedelta(weeks=79)).date()}", stdout=out
    )
    assert "13 past dates, 2 doors" in out.getvalue()
    assert ForecastCheck.objects.finished().count() == 1
