"""Rows to arrays: what was known at a moment, in each depot's own time, in few queries."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from analytics.assessment.severity import is_salt_season
from analytics.datasets import fetch_fleet, fetch_parts_record
from analytics.datasets.clock import limit_day, wall_seconds
from analytics.datasets.fitments import End
from fleetdoors.models import LayUp, MaintenanceTask, Removal, TruckDepot
from inspections.models import CounterReading
from tests import factories as make

DAY = date(2026, 6, 1)
CHICAGO = ZoneInfo("America/Chicago")
pytestmark = pytest.mark.django_db


def local(hour: int, minute: int = 0, day: date = DAY, zone: ZoneInfo = CHICAGO) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone)


def chicago_door(**facts):
    return make.make_door(depot=make.make_depot(timezone="America/Chicago"), **facts)


def values_as_of(as_of) -> list[float]:
    return fetch_fleet(as_of).readings.kernel.value.tolist()


def test_a_date_means_the_start_of_that_day_where_the_door_is():
    door = chicago_door()
    make.make_reading(door=door, counter_value=10, read_at=local(23, 59, DAY - timedelta(days=1)))
    make.make_reading(door=door, counter_value=20, read_at=local(0, 0))
    assert values_as_of(DAY) == [10]
    assert values_as_of(DAY + timedelta(days=1)) == [10, 20]


def test_depots_in_different_zones_have_different_moments():
    moment = datetime(2026, 5, 31, 20, 0, tzinfo=UTC)  # 1 June in Tokyo, 31 May in Chicago
    here, there = chicago_door(), make.make_door(depot=make.make_depot(timezone="Asia/Tokyo"))
    make.make_reading(door=here, counter_value=1, read_at=moment)
    make.make_reading(door=there, counter_value=2, read_at=moment)
    assert values_as_of(DAY) == [1]


def test_what_was_entered_later_is_not_known():
    door = chicago_door()
    make.make_reading(
        door=door,
        counter_value=10,
        read_at=local(8, 0, DAY - timedelta(days=9)),
        entered_at=local(0, 0),
    )
    assert values_as_of(DAY) == []
    assert values_as_of(local(0, 0) + timedelta(seconds=1)) == [10]


def test_what_was_corrected_later_is_seen_as_it_stood():
    door, read_at = chicago_door(), local(8, 0, DAY - timedelta(days=9))
    old = make.make_reading(door=door, counter_value=10, read_at=read_at)
    old.superseded_at = local(9, 0)
    old.save()
    CounterReading.objects.create(
        door=door, read_at=read_at, counter_value=11, entered_at=local(9, 0), corrects=old
    )
    assert values_as_of(DAY) == [10]
    assert values_as_of(local(8, 0)) == [10]
    assert values_as_of(local(10, 0)) == [11]


def test_a_removal_after_the_moment_has_not_happened():
    door = chicago_door()
    make.make_fitment(
        door=door,
        component=make.component("converter"),
        removed_on=DAY,
        removed_at_cycles=900,
        removal=Removal.FAILED,
    )
    before = fetch_fleet(DAY).fitments
    assert before.end.tolist() == [End.FITTED]
    assert np.isnan(before.removed_at_cycles).all()
    after = fetch_fleet(DAY + timedelta(days=1)).fitments
    assert after.end.tolist() == [End.FAILED]
    assert after.removed_at_cycles.tolist() == [900]


def test_a_removal_entered_after_the_moment_has_not_happened():
    door = chicago_door()
    fitment = make.make_fitment(
        door=door,
        component=make.component("converter"),
        removed_on=DAY - timedelta(days=30),
        removed_at_cycles=900,
        removal=Removal.FAILED,
    )
    fitment.end_entered_at = local(1, 0)
    fitment.save()
    assert fetch_fleet(DAY).fitments.end.tolist() == [End.FITTED]


def test_a_door_is_where_it_was():
    north, south = make.make_depot(code="N"), make.make_depot(code="S")
    door = make.make_loose_door()
    make.make_mounting(door=door, truck=make.make_truck(depot=north), removed_on=DAY)
    make.make_mounting(door=door, truck=make.make_truck(depot=south), mounted_on=DAY)
    codes = [
        rows.depots.codes[rows.depot[0]]
        for rows in (fetch_fleet(DAY).doors, fetch_fleet(DAY + timedelta(days=1)).doors)
    ]
    assert codes == ["N", "S"]


def test_a_truck_that_moved_since_is_put_back():
    north, south = make.make_depot(code="N"), make.make_depot(code="S")
    truck = make.make_truck(depot=south)
    make.make_door(truck=truck)
    TruckDepot.objects.create(truck=truck, depot=north, from_on=date(2025, 1, 1), until_on=DAY)
    rows = fetch_fleet(DAY).doors
    assert rows.depots.codes[rows.depot[0]] == "N"
    rows = fetch_fleet(DAY + timedelta(days=1)).doors
    assert rows.depots.codes[rows.depot[0]] == "S"


def test_a_door_in_store_has_no_depot_and_keeps_universal_time():
    door = make.make_loose_door()
    make.make_reading(door=door, counter_value=5, read_at=datetime(2026, 5, 31, 23, tzinfo=UTC))
    fleet = fetch_fleet(DAY)
    assert fleet.doors.depot.tolist() == [-1]
    assert fleet.readings.kernel.value.tolist() == [5]


def test_a_counter_exchange_not_yet_known_leaves_the_old_counter_fitted():
    door = chicago_door()
    make.make_counter(door=door, removed_on=DAY, last_value=700)
    make.make_counter(door=door, fitted_on=DAY, first_value=3)
    before = fetch_fleet(DAY).counters
    assert before.last_value.tolist() == [-1]
    assert np.isnan(before.removed_day).all()
    assert sorted(fetch_fleet(DAY + timedelta(days=1)).counters.last_value.tolist()) == [-1, 700]


def test_a_counter_brings_its_own_digits_and_basis():
    model = make.make_door_model(counter_digits=5, counts_per_cycle=2)
    door = make.make_door(door_model=model)
    make.make_counter(door=door, digits=4, counts_per_cycle=1)
    fleet = fetch_fleet(DAY)
    assert (fleet.counters.modulus.tolist(), fleet.counters.counts_per_cycle.tolist()) == (
        [10_000], [1],
    )  # fmt: skip
    assert (fleet.doors.modulus.tolist(), fleet.doors.counts_per_cycle.tolist()) == ([100_000], [2])


def test_a_lay_up_still_running_has_no_known_end():
    truck = make.make_truck()
    make.make_door(truck=truck)
    LayUp.objects.create(truck=truck, from_on=date(2026, 5, 1), until_on=DAY + timedelta(days=20))
    assert fetch_fleet(DAY).doors.lay_ups.until_day.tolist() == [np.inf]
    later = fetch_fleet(DAY + timedelta(days=21)).doors.lay_ups
    assert later.until_day.tolist() == [(DAY + timedelta(days=20) - date(1970, 1, 1)).days]


def test_a_door_whose_record_begins_later_is_not_known():
    make.make_door(record_from=DAY)
    assert len(fetch_fleet(DAY).doors) == 0
    assert len(fetch_fleet(DAY + timedelta(days=1)).doors) == 1


def test_a_retirement_ahead_has_not_happened():
    make.make_door(retired_on=DAY)
    assert fetch_fleet(DAY).doors.in_service.tolist() == [True]
    assert fetch_fleet(DAY + timedelta(days=1)).doors.in_service.tolist() == [False]


def test_readings_stay_in_order_through_the_hour_that_comes_twice():
    door = chicago_door()
    first = datetime(2025, 11, 2, 6, 50, tzinfo=UTC)  # 01:50 summer time in Chicago
    make.make_reading(door=door, counter_value=100, read_at=first)
    make.make_reading(door=door, counter_value=101, read_at=first + timedelta(minutes=20))
    readings = fetch_fleet(DAY).readings.kernel
    assert readings.value.tolist() == [100, 101]
    assert (np.diff(readings.day) > 0).all()


@pytest.mark.parametrize("name", ["America/Chicago", "Europe/London", "Asia/Kathmandu", "UTC"])
def test_wall_clock_seconds_agree_with_the_zone_database(name: str):
    zone = ZoneInfo(name)
    epoch = np.random.default_rng(3).integers(1_600_000_000, 1_900_000_000, 400)
    expected = [
        datetime.fromtimestamp(int(each), zone).replace(tzinfo=UTC).timestamp() for each in epoch
    ]
    wall = wall_seconds(epoch, zone)
    assert wall.tolist() == expected


def test_a_moment_knows_the_bare_dates_of_its_own_day():
    noon = datetime(2026, 6, 1, 12, tzinfo=UTC)
    today = (DAY - date(1970, 1, 1)).days
    assert limit_day(DAY, CHICAGO) == today
    assert limit_day(noon, ZoneInfo("UTC")) == today + 1
    assert limit_day(datetime(2026, 6, 1, tzinfo=UTC), ZoneInfo("UTC")) == today


def test_larger_tasks_do_the_ones_inside_those_they_contain():
    small, middle, large = (
        MaintenanceTask.objects.create(code=code, name=code, interval_days=9)
        for code in ("AAS", "AAM", "AAL")
    )
    middle.contains.add(small)
    large.contains.add(middle)
    tasks = fetch_fleet(DAY).tasks
    row = {code: k for k, code in enumerate(tasks.codes)}
    assert tasks.contains[row["AAL"], row["AAS"]]
    assert not tasks.contains[row["AAS"], row["AAL"]]


@pytest.mark.parametrize(
    ("day", "season", "expected"),
    [
        (date(2026, 1, 15), ("11-01", "03-31"), True),
        (date(2026, 4, 1), ("11-01", "03-31"), False),
        (date(2026, 11, 1), ("11-01", "03-31"), True),
        (date(2026, 7, 1), ("06-15", "08-31"), True),
        (date(2026, 9, 1), ("06-15", "08-31"), False),
    ],
)
def test_salt_season_may_span_the_new_year(day, season, expected):
    assert is_salt_season(day, *season) is expected


def test_stock_is_the_last_count_less_what_was_drawn_since():
    depot, part = make.make_depot(), make.make_part()
    door = make.make_door(depot=depot)
    make.make_stock_count(depot=depot, part=part, on_hand=10, counted_at=make.NOW)
    for days, draws in ((-1, True), (1, True), (2, False)):
        make.make_part_used(
            door=door,
            part=part,
            quantity=2,
            used_at=make.NOW + timedelta(days=days),
            draws_on_stock=draws,
        )
    doors = fetch_fleet(make.NOW + timedelta(days=3)).doors
    assert fetch_parts_record(doors).shelves.on_hand.tolist() == [[8.0]]
    assert np.isnan(fetch_parts_record(fetch_fleet(DAY).doors).shelves.on_hand).all()


@pytest.mark.parametrize("as_of", [DAY, make.NOW])
def test_the_number_of_queries_does_not_grow_with_the_fleet(as_of):
    counts = []
    for _round in range(2):
        for _door in range(3):
            door = chicago_door()
            make.make_readings(door=door, values=[1, 5, 9], first_at=local(8))
            make.make_fault(door=door, found_at=local(9))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            fetch_parts_record(fetch_fleet(as_of).doors)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 28


def test_the_named_doors_alone_are_fetched():
    wanted, other = chicago_door(), chicago_door()
    for door in (wanted, other):
        make.make_readings(door=door, values=[1, 5], first_at=local(8))
    fleet = fetch_fleet(make.NOW, [wanted.pk])
    assert fleet.doors.ids.tolist() == [wanted.pk]
    assert fleet.readings.kernel.value.tolist() == [1, 5]
