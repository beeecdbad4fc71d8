"""Demand and orders: which part serves which position, what a forecast rests on, what to order."""

from __future__ import annotations

from datetime import timedelta

import pytest

from analytics.assessment.outlook import DEFAULT_LEAD_DAYS
from fleetdoors.models import Part
from tests import factories as make
from tests.analytics.asking import ask

pytestmark = pytest.mark.django_db
COMPONENT = "converter"
AS_OF = f"--as-of={make.NOW.date()}"


def lived_in_depot(depot, *, doors: int = 30, part: Part | None = None, rate: int = 40, **facts):
    """Doors whose converter failed once at about 9,000 cycles and has been replaced."""
    begun = (make.NOW - timedelta(days=364)).date()
    for number in range(doors):
        door = make.make_door(depot=depot, record_from=begun, **facts)
        make.make_readings(
            door=door,
            values=[rate * 14 * k for k in range(1, 26)],
            first_at=make.NOW - timedelta(days=350),
            days_between=14,
        )
        age = 7_000 + 150 * number
        day = begun + timedelta(days=age // rate)
        common = {"door": door, "component": make.component(COMPONENT), "part": part}
        make.make_fitment(
            **common, fitted_on=begun, removed_on=day, removed_at_cycles=age, removal="failed"
        )
        make.make_fitment(**common, fitted_on=day, fitted_at_cycles=age)


def by_part(*options: str):
    return {(row["part"], row["depot"]): row for row in ask("demand", AS_OF, *options)}


def test_every_part_and_depot_has_a_row():
    for code in ("A", "B"):
        make.make_depot(code=code)
    for number in ("P1", "P2", "P3"):
        make.make_part(part_number=number)
    rows = by_part()
    assert len(rows) == 6
    row = rows["P1", "A"]
    assert (row["method"], row["mean"], row["p95"], row["on_hand"]) == ("none", 0, 0, None)
    assert row["suggested_order"] is None
    assert "Never counted here" in row["reason"]


def test_the_fitted_parts_of_a_depot_make_its_demand():
    here = make.make_depot(code="HERE")
    make.make_depot(code="THERE")
    part = make.make_part(part_number="CONV", component=make.component(COMPONENT))
    lived_in_depot(here, part=part)
    rows = by_part("--horizon=120")
    row = rows["CONV", "HERE"]
    assert row["method"] == "installed base"
    # 30 converters aged about 4,500 cycles fail at 7,000 to 11,350; 120 days are 4,800 cycles.
    assert 8 < row["mean"] < 24
    assert row["p05"] <= row["p10"] <= row["p50"] <= row["p90"] <= row["p95"] <= 40
    assert rows["CONV", "THERE"]["mean"] == 0


def test_demand_grows_with_the_horizon():
    part = make.make_part(part_number="CONV", component=make.component(COMPONENT))
    lived_in_depot(make.make_depot(code="D"), part=part)
    means = [by_part(f"--horizon={days}")["CONV", "D"]["mean"] for days in (30, 60, 120)]
    assert means == sorted(means)
    assert means[0] < means[2] / 2


def test_a_superseded_part_is_ordered_as_its_successor():
    old = make.make_part(part_number="OLD", component=make.component(COMPONENT))
    new = make.make_part(part_number="NEW", component=make.component(COMPONENT))
    new.replaces = old
    new.save()
    lived_in_depot(make.make_depot(code="D"), part=old)
    rows = by_part()
    assert rows["OLD", "D"]["mean"] == 0
    assert rows["NEW", "D"]["mean"] > 1


def test_a_successor_that_does_not_fit_leaves_the_part_as_it_is():
    model = make.make_door_model()
    old = make.make_part(part_number="OLD", component=make.component(COMPONENT))
    new = make.make_part(
        part_number="NEW", component=make.component(COMPONENT), fits=[make.make_door_model()]
    )
    new.replaces = old
    new.save()
    lived_in_depot(make.make_depot(code="D"), part=old, door_model=model)
    rows = by_part()
    assert rows["OLD", "D"]["mean"] > 1
    assert rows["NEW", "D"]["mean"] == 0


def test_where_no_part_is_noted_the_one_in_use_there_serves():
    depot = make.make_depot(code="D")
    lived_in_depot(depot)
    for number in ("AAA", "ZZZ"):
        make.make_part(part_number=number, component=make.component(COMPONENT))
    make.make_part_used(
        door=make.make_door(depot=depot),
        part=Part.objects.get(part_number="ZZZ"),
        used_at=make.NOW - timedelta(days=20),
    )
    rows = by_part()
    assert rows["ZZZ", "D"]["mean"] > 1
    assert rows["AAA", "D"]["mean"] == 0


def test_few_lives_leave_it_to_past_use():
    depot = make.make_depot(code="D")
    part = make.make_part(part_number="SEAL", component=make.component("bottom_seal"))
    door = make.make_door(depot=depot, record_from=(make.NOW - timedelta(days=375)).date())
    make.make_reading(door=door, counter_value=10, read_at=make.NOW - timedelta(days=370))
    for weeks in range(0, 52, 2):
        make.make_part_used(door=door, part=part, used_at=make.NOW - timedelta(weeks=weeks, days=1))
    row = by_part("--horizon=182")["SEAL", "D"]
    assert row["method"] == "history"
    assert row["mean"] == pytest.approx(13, rel=0.03)
    assert "26 used in the last 52 weeks" in row["reason"]


def test_use_beyond_a_year_is_forgotten():
    depot = make.make_depot(code="D")
    part = make.make_part(part_number="SEAL", component=make.component("bottom_seal"))
    door = make.make_door(depot=depot)
    make.make_part_used(door=door, part=part, used_at=make.NOW - timedelta(days=370))
    assert by_part()["SEAL", "D"]["method"] == "none"


def test_an_order_fills_the_shelf_in_packs():
    depot = make.make_depot(code="D")
    part = make.make_part(
        part_number="CONV", component=make.component(COMPONENT), lead_time_days=30
    )
    part.pack_size = 5
    part.save()
    lived_in_depot(depot, part=part)
    yesterday = make.NOW - timedelta(days=1)
    make.make_stock_count(depot=depot, part=part, on_hand=1, counted_at=yesterday)
    row = by_part()["CONV", "D"]
    assert row["reorder_point"] < row["order_up_to"]
    assert row["suggested_order"] % 5 == 0
    assert row["suggested_order"] >= row["order_up_to"] - 1
    assert row["run_out_on"] > str(make.NOW.date())
    assert "at or below the reorder point" in row["reason"]


def test_enough_on_order_needs_no_order():
    depot = make.make_depot(code="D")
    part = make.make_part(part_number="CONV", component=make.component(COMPONENT))
    lived_in_depot(depot, part=part)
    make.make_stock_count(
        depot=depot,
        part=part,
        on_hand=1,
        on_order=500,
        counted_at=make.NOW - timedelta(days=1),
    )
    row = by_part()["CONV", "D"]
    assert row["suggested_order"] == 0
    assert "above the reorder point" in row["reason"]


def test_a_higher_service_level_keeps_more_on_the_shelf():
    points = []
    for code, level in (("LOW", 0.8), ("HIGH", 0.99)):
        depot = make.make_depot(code=code)
        part = make.make_part(part_number=code, component=make.component(COMPONENT))
        lived_in_depot(depot, part=part)
        make.make_stock_count(
            depot=depot,
            part=part,
            service_level=level,
            counted_at=make.NOW - timedelta(days=1),
        )
        points.append((code, part))
    rows = by_part()
    assert rows["LOW", "LOW"]["reorder_point"] < rows["HIGH", "HIGH"]["reorder_point"]


def test_a_longer_or_unknown_lead_time():
    levels = {}
    for number, lead in (("SHORT", 7.0), ("NONE", None), ("LONG", 60.0)):
        depot = make.make_depot(code=f"D-{number}")
        part = make.make_part(
            part_number=number, component=make.component(COMPONENT), lead_time_days=lead
        )
        lived_in_depot(depot, part=part)
        levels[number] = depot.code
    rows = by_part()
    points = {number: rows[number, code]["reorder_point"] for number, code in levels.items()}
    assert 7 < DEFAULT_LEAD_DAYS < 60
    assert points["SHORT"] <= points["NONE"] < points["LONG"]


def test_parts_changed_by_plan_are_forecast_too():
    """Springs that come off sound at 3,000 cycles: one each per 75 days of 40 cycles."""
    depot = make.make_depot(code="D")
    part = make.make_part(part_number="SPR", component=make.component("spring"))
    begun = (make.NOW - timedelta(days=364)).date()
    for number in range(20):
        door = make.make_door(depot=depot, record_from=begun)
        make.make_readings(
            door=door,
            values=[560 * k for k in range(1, 26)],
            first_at=make.NOW - timedelta(days=350),
            days_between=14,
        )
        for life in range(5):
            is_last = life == 4
            make.make_fitment(
                door=door,
                component=make.component("spring"),
                part=part,
                fitted_on=begun + timedelta(days=75 * life),
                fitted_at_cycles=3_000 * life,
                removed_on=None if is_last else begun + timedelta(days=75 * (life + 1)),
                removed_at_cycles=None if is_last else 3_000 * (life + 1),
                removal="" if is_last else ("failed" if number == 0 else "preventive"),
            )
    row = by_part("--horizon=150")["SPR", "D"]
    assert row["method"] == "installed base"
    assert row["mean"] == pytest.approx(40, rel=0.15)
    assert "Changed by plan at about 3000 cycles" in row["reason"]


def test_parts_that_go_along_are_carried_forward():
    depot = make.make_depot(code="D")
    part = make.make_part(part_number="CONV", component=make.component(COMPONENT))
    lived_in_depot(depot, part=part)
    alone = by_part("--horizon=91")["CONV", "D"]["mean"]
    for number in range(26):
        door = make.make_door(depot=depot)
        common = {"door": door, "component": make.component(COMPONENT), "part": part}
        day = (make.NOW - timedelta(days=14 * number + 3)).date()
        make.make_fitment(**common, removed_on=day, removed_at_cycles=10, removal="other")
        make.make_fitment(**common, fitted_on=day, fitted_at_cycles=10)
    row = by_part("--horizon=91")["CONV", "D"]
    assert row["mean"] > alone + 5
    assert "came off for another reason" in row["reason"]


def test_one_part_and_depot_are_asked_for():
    for code in ("A", "B"):
        make.make_depot(code=code)
        make.make_part(part_number=f"P{code}")
    assert list(by_part("--part=PA", "--depot=B")) == [("PA", "B")]
