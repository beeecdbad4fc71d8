"""Each named constraint of what we have and what happened turns away what it is there for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, models, transaction

from fleetdoors.models import (
    Counter,
    Depot,
    DoorModel,
    DoorUnit,
    Fitment,
    LayUp,
    MaintenanceTask,
    Mounting,
    Part,
    SeverityFactor,
    Truck,
    TruckDepot,
)
from inspections.models import CounterReading, Fault, PartUsed, StockCount
from tests import factories as make
from tests.stock_factories import make_van

pytestmark = pytest.mark.django_db

DAY = date(2025, 6, 1)
BEFORE = date(2025, 5, 31)
Breach = Callable[[], object]


def twice(build: Callable[[], object]) -> Breach:
    """The same row two times."""

    def breach() -> None:
        build()
        build()

    return breach


def two_doors_on_a_truck() -> None:
    truck = make.make_truck()
    make.make_door(truck=truck)
    make.make_door(truck=truck)


def one_door_on_two_trucks() -> None:
    door = make.make_door()
    make.make_mounting(door=door, truck=make.make_truck(), mounted_on=DAY)


def a_mounting_twice() -> None:
    door = make.make_loose_door()
    for _ in range(2):
        make.make_mounting(door=door, truck=make.make_truck(), mounted_on=DAY, removed_on=DAY)


def a_counter_twice() -> None:
    door = make.make_door()
    for _ in range(2):
        make.make_counter(door=door, serial="C1", fitted_on=DAY, removed_on=DAY)


def two_counters_on_a_door() -> None:
    door = make.make_door()
    make.make_counter(door=door)
    make.make_counter(door=door)


def two_parts_at_a_position() -> None:
    door = make.make_door()
    for cycles in (0, 5):
        make.make_fitment(
            door=door, component=make.component("spring"), position="left", fitted_at_cycles=cycles
        )


def a_stay(**dates: date) -> None:
    truck = make.make_truck()
    TruckDepot.objects.create(truck=truck, depot=truck.depot, **dates)


def two_stays_from_a_day() -> None:
    truck = make.make_truck()
    for _ in range(2):
        TruckDepot.objects.create(truck=truck, depot=truck.depot, from_on=DAY)


def two_lay_ups_from_a_day() -> None:
    truck = make.make_truck()
    for _ in range(2):
        LayUp.objects.create(truck=truck, from_on=DAY)


def two_readings_of_a_moment() -> None:
    door = make.make_door()
    make.make_reading(door=door, counter_value=1)
    make.make_reading(door=door, counter_value=2)


def a_reading_corrected_before_its_entry() -> None:
    reading = make.make_reading(door=make.make_door(), counter_value=1)
    reading.superseded_at = reading.entered_at - timedelta(seconds=1)
    reading.save()


def two_counts_of_a_van() -> None:
    van = make_van(depot=make.make_depot())
    facts = {"depot": van.depot, "place": van, "part": make.make_part(), "on_hand": 1}
    for _ in range(2):
        StockCount.objects.create(counted_at=make.NOW, entered_at=make.NOW, **facts)


def taken_back_in_force() -> None:
    used = make.make_part_used(door=make.make_door(), part=make.make_part())
    PartUsed.objects.filter(pk=used.pk).update(taken_back_because="not used")


def two_counts_of_a_moment() -> None:
    depot, part = make.make_depot(), make.make_part()
    make.make_stock_count(depot=depot, part=part)
    make.make_stock_count(depot=depot, part=part)


def a_fitment(**facts: object) -> Breach:
    return lambda: make.make_fitment(
        door=make.make_door(), component=make.component("spring"), **facts
    )


def a_task(**facts: object) -> Breach:
    return lambda: MaintenanceTask.objects.create(code="XYZ", name="x", **facts)


def a_factor(factor: float) -> Breach:
    return lambda: SeverityFactor.objects.create(
        task=make.task("CTR"), condition="salt", factor=factor
    )


BREACHES: list[tuple[str, Breach]] = [
    (
        "depot_bay_hours_not_negative",
        lambda: Depot.objects.create(code="A", bay_hours_per_day=-1),
    ),
    (
        "door_model_counts_per_cycle_one_or_two",
        lambda: make.make_door_model(counts_per_cycle=3),
    ),
    ("door_model_counter_digits_3_to_9", lambda: make.make_door_model(counter_digits=2)),
    (
        "door_model_drive_band_ordered",
        lambda: DoorModel.objects.create(code="M", drive_volts=34.0),
    ),
    (
        "truck_disposed_after_in_service",
        lambda: Truck.objects.create(
            fleet_number="T", depot=make.make_depot(), in_service_on=DAY, disposed_on=BEFORE
        ),
    ),
    ("truck_stay_unique", two_stays_from_a_day),
    ("truck_stay_ends_after_start", lambda: a_stay(from_on=DAY, until_on=BEFORE)),
    ("lay_up_unique", two_lay_ups_from_a_day),
    (
        "lay_up_ends_after_start",
        lambda: LayUp.objects.create(truck=make.make_truck(), from_on=DAY, until_on=BEFORE),
    ),
    (
        "door_retired_after_record_began",
        lambda: make.make_loose_door(record_from=DAY, retired_on=BEFORE),
    ),
    ("mounting_unique", a_mounting_twice),
    ("door_on_one_truck", one_door_on_two_trucks),
    ("truck_has_one_door", two_doors_on_a_truck),
    (
        "mounting_ends_after_start",
        lambda: make.make_mounting(
            door=make.make_loose_door(),
            truck=make.make_truck(),
            mounted_on=DAY,
            removed_on=BEFORE,
        ),
    ),
    ("counter_unique", a_counter_twice),
    ("door_has_one_counter", two_counters_on_a_door),
    (
        "counter_ends_after_start",
        lambda: make.make_counter(door=make.make_door(), fitted_on=DAY, removed_on=BEFORE),
    ),
    (
        "counter_counts_per_cycle_one_or_two",
        lambda: make.make_counter(door=make.make_door(), counts_per_cycle=0),
    ),
    ("counter_digits_3_to_9", lambda: make.make_counter(door=make.make_door(), digits=10)),
    ("part_cost_not_negative", lambda: make.make_part(unit_cost=Decimal("-0.01"))),
    ("part_lead_time_not_negative", lambda: make.make_part(lead_time_days=-1.0)),
    (
        "part_lead_time_spread_not_negative",
        lambda: Part.objects.create(part_number="P", name="x", lead_time_sd_days=-1.0),
    ),
    (
        "part_pack_at_least_one",
        lambda: Part.objects.create(part_number="P", name="x", pack_size=0),
    ),
    ("position_holds_one_part", two_parts_at_a_position),
    (
        "fitment_ends_after_start",
        a_fitment(fitted_at_cycles=9, removed_at_cycles=8, removal="failed"),
    ),
    ("fitment_observed_after_fitted", a_fitment(fitted_at_cycles=9, observed_from_cycles=8)),
    ("fitment_removal_known", a_fitment(removal="stolen")),
    ("task_interval_cycles_at_least_one", a_task(interval_cycles=0)),
    ("task_interval_days_at_least_one", a_task(interval_days=0)),
    ("task_window_within_interval", a_task(window_before_percent=51)),
    ("severity_factor_unique", twice(a_factor(0.5))),
    ("severity_factor_0_to_2", a_factor(0.0)),
    ("reading_one_in_force", two_readings_of_a_moment),
    ("reading_corrected_after_entry", a_reading_corrected_before_its_entry),
    (
        "fault_off_road_ends_after_start",
        lambda: make.make_fault(
            door=make.make_door(),
            off_road_from=make.NOW,
            off_road_until=make.NOW - timedelta(minutes=1),
        ),
    ),
    (
        "part_used_at_least_one",
        lambda: make.make_part_used(door=make.make_door(), part=make.make_part(), quantity=0),
    ),
    ("stock_one_count_in_force", two_counts_of_a_moment),
    ("stock_one_count_in_force_at_place", two_counts_of_a_van),
    ("part_used_taken_back_is_not_in_force", taken_back_in_force),
    (
        "stock_service_level_0_5_to_1",
        lambda: make.make_stock_count(
            depot=make.make_depot(), part=make.make_part(), service_level=0.4
        ),
    ),
]
MODELS: tuple[type[models.Model], ...] = (
    Counter,
    CounterReading,
    Depot,
    DoorModel,
    DoorUnit,
    Fault,
    Fitment,
    LayUp,
    MaintenanceTask,
    Mounting,
    Part,
    PartUsed,
    SeverityFactor,
    StockCount,
    Truck,
    TruckDepot,
)


def unique_columns(name: str) -> str | None:
    """How SQLite names a plain unique constraint: by its columns."""
    for model in MODELS:
        for constraint in model._meta.constraints:
            if constraint.name == name and isinstance(constraint, models.UniqueConstraint):
                columns = [model._meta.get_field(field).column for field in constraint.fields]
                return ", ".join(f"{model._meta.db_table}.{column}" for column in columns)
    return None


@pytest.mark.parametrize(("name", "breach"), BREACHES, ids=[name for name, _ in BREACHES])
def test_the_database_turns_it_away(name: str, breach: Breach) -> None:
    with pytest.raises(IntegrityError) as refusal, transaction.atomic():
        breach()
    said = str(refusal.value)
    if connection.vendor == "sqlite" and (columns := unique_columns(name)):
        assert said == f"UNIQUE constraint failed: {columns}"
    else:
        assert name in said


def test_no_constraint_is_forgotten() -> None:
    named = {constraint.name for model in MODELS for constraint in model._meta.constraints}
    assert named == {name for name, _ in BREACHES}
