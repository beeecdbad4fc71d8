"""Cycles between failures by group: what is counted, over which cycles."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests import factories as make
from tests.analytics.asking import ask

pytestmark = pytest.mark.django_db
CONVERTER, MOTOR = "converter", "motor"


def door_with(*, cycles: int, failures: int = 0, component: str = CONVERTER, **facts):
    """A door read once at its end, with failures at equal ages."""
    door = make.make_door(**facts)
    make.make_reading(door=door, counter_value=cycles)
    for number in range(failures):
        make.make_fault(
            door=door,
            at_cycles=(number + 1) * cycles // (failures + 1),
            component=make.component(component),
        )
    return door


def by_group(rows):
    return {row["group"]: row for row in rows}


def test_cycles_of_the_window_are_shared_by_all_failures():
    door_with(cycles=30_000, failures=2)
    door_with(cycles=20_000, failures=2, component=MOTOR)
    [row] = ask("mcbf")
    assert (row["group"], row["doors"], row["cycles"], row["failures"]) == ("fleet", 2, 50_000, 4)
    assert row["mcbf"] == 12_500
    assert row["lower"] < 12_500 < row["upper"]


def test_each_component_counts_the_cycles_of_every_door():
    door_with(cycles=30_000, failures=2)
    door_with(cycles=20_000, failures=1, component=MOTOR)
    rows = by_group(ask("mcbf", "--by=component"))
    assert {name: row["cycles"] for name, row in rows.items()} == {
        CONVERTER: 50_000,
        MOTOR: 50_000,
    }
    assert (rows[CONVERTER]["failures"], rows[MOTOR]["failures"]) == (2, 1)


def test_a_component_never_failed_gets_a_lower_bound():
    door = door_with(cycles=40_000)
    make.make_fitment(door=door, component=make.component("spring"))
    [row] = ask("mcbf", "--by=component")
    assert (row["group"], row["bound"], row["mcbf"]) == ("spring", "lower-only", None)


def test_what_is_no_failure_is_not_counted_but_widens_the_window():
    door = door_with(cycles=10_000)
    make.make_fault(
        door=door, at_cycles=12_000, is_failure=False, component=make.component(CONVERTER)
    )
    [row] = ask("mcbf")
    assert (row["cycles"], row["failures"]) == (12_000, 0)


def test_a_failure_outside_every_reading_is_counted():
    door = door_with(cycles=10_000)
    make.make_fault(door=door, at_cycles=15_000)
    [row] = ask("mcbf")
    assert (row["cycles"], row["failures"]) == (15_000, 1)


def test_two_failures_on_one_day_are_two():
    door = door_with(cycles=10_000)
    for _repeat in range(2):
        make.make_fault(door=door, at_cycles=5_000, component=make.component(CONVERTER))
    assert ask("mcbf")[0]["failures"] == 2


def test_a_record_that_begins_late_counts_from_there():
    door_with(cycles=50_000, failures=0, opening_cycles=20_000)
    assert ask("mcbf")[0]["cycles"] == 30_000


def test_groups_of_doors():
    north, south = make.make_depot(code="NORTH"), make.make_depot(code="SOUTH")
    slow = make.make_truck(depot=north, route_kind="linen")
    fast = make.make_truck(depot=south, route_kind="parcel")
    model = make.make_door_model(code="RD-6")
    door_with(cycles=10_000, failures=1, truck=slow, door_model=model, serial="A")
    door_with(cycles=40_000, failures=4, truck=fast, serial="B")
    stored = make.make_loose_door(serial="C")
    make.make_reading(door=stored, counter_value=5_000)
    depots = by_group(ask("mcbf", "--by=depot"))
    assert {name: row["cycles"] for name, row in depots.items()} == {
        "NORTH": 10_000,
        "SOUTH": 40_000,
        None: 5_000,
    }
    routes = by_group(ask("mcbf", "--by=route_kind"))
    assert {name: row["failures"] for name, row in routes.items()} == {
        "linen": 1,
        "parcel": 4,
        None: 0,
    }
    assert by_group(ask("mcbf", "--by=door_model"))["RD-6"]["cycles"] == 10_000
    assert {row["group"]: row["mcbf"] for row in ask("mcbf", "--by=door")} == {
        "A": 10_000,
        "B": 10_000,
        "C": None,
    }


def test_since_counts_cycles_and_failures_from_that_day():
    begun = date(2026, 1, 1)
    door = make.make_door(record_from=begun)
    first_at = make.NOW.replace(year=2026, month=1, day=8, hour=0)
    make.make_readings(door=door, values=[280 * k for k in range(1, 31)], first_at=first_at)
    early, late = first_at + timedelta(days=30), first_at + timedelta(days=120)
    for found_at in (early, late):
        make.make_fault(door=door, found_at=found_at)
    since = (first_at + timedelta(days=63)).date()
    [row] = ask("mcbf", f"--since={since}")
    assert row["failures"] == 1
    assert row["cycles"] == pytest.approx(280 * 30 - 280 * 10)


def test_one_component_in_every_grouping():
    door_with(cycles=10_000, failures=1)
    door_with(cycles=10_000, failures=3, component=MOTOR)
    [row] = ask("mcbf", f"--component={MOTOR}")
    assert (row["cycles"], row["failures"]) == (20_000, 3)
    [row] = ask("mcbf", "--by=component", f"--component={MOTOR}")
    assert (row["group"], row["failures"]) == (MOTOR, 3)


def test_a_failure_without_a_component_is_named_unknown():
    door = door_with(cycles=10_000)
    make.make_fault(door=door, at_cycles=5_000)
    assert [row["group"] for row in ask("mcbf", "--by=component")] == [None]


def test_mcf_and_trend_take_the_same_failures():
    door_with(cycles=10_000, failures=3)
    door_with(cycles=20_000, failures=2)
    curve = ask("mcf")
    assert sum(row["failures"] for row in curve) == 5
    # The shorter window has ended: one door is at risk beyond it, and at its very end two.
    assert {row["at_cycles"]: row["at_risk"] for row in curve} == {
        2_500: 2,
        5_000: 2,
        6_666: 2,
        7_500: 2,
        13_333: 1,
    }
    assert ask("trend")[0]["failures"] == 5
