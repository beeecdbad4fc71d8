"""Builders of rows for tests: each takes what the test is about and fills in the rest."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import count

from fleetdoors.models import (
    Component,
    Counter,
    Depot,
    DoorModel,
    DoorUnit,
    Fitment,
    FusePosition,
    MaintenanceTask,
    Mounting,
    Part,
    Role,
    Truck,
    User,
)
from inspections.models import CounterReading, Fault, PartUsed, ReadingStatus, StockCount, TaskDone
from inspections.models.counter_reading import Source
from inspections.services.ledger_record import book_count, book_use

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
RECORD_FROM = date(2025, 1, 1)
_number = count(1)


def make_depot(*, code: str = "", timezone: str = "UTC", setting: str = "normal") -> Depot:
    code = code or f"DEP{next(_number)}"
    return Depot.objects.create(
        code=code, name=f"Depot {code}", timezone=timezone, setting=setting, bay_hours_per_day=8
    )


def make_truck(
    *, fleet_number: str = "", depot: Depot | None = None, route_kind: str = ""
) -> Truck:
    return Truck.objects.create(
        fleet_number=fleet_number or f"T{next(_number)}",
        depot=depot or make_depot(),
        route_kind=route_kind,
    )


def make_door_model(
    *,
    code: str = "",
    counter_digits: int = 6,
    counts_per_cycle: int = 1,
    spring_class_cycles: int | None = None,
) -> DoorModel:
    return DoorModel.objects.create(
        code=code or f"M{next(_number)}",
        counter_digits=counter_digits,
        counts_per_cycle=counts_per_cycle,
        spring_class_cycles=spring_class_cycles,
    )


def make_door(
    *,
    serial: str = "",
    truck: Truck | None = None,
    depot: Depot | None = None,
    door_model: DoorModel | None = None,
    opening_cycles: int = 0,
    record_from: date | None = RECORD_FROM,
    retired_on: date | None = None,
) -> DoorUnit:
    """A door mounted on the truck given, or on a new one of the depot."""
    door = make_loose_door(
        serial=serial,
        door_model=door_model,
        opening_cycles=opening_cycles,
        record_from=record_from,
        retired_on=retired_on,
    )
    make_mounting(door=door, truck=truck or make_truck(depot=depot))
    return door


def make_loose_door(
    *,
    serial: str = "",
    door_model: DoorModel | None = None,
    opening_cycles: int = 0,
    record_from: date | None = RECORD_FROM,
    retired_on: date | None = None,
) -> DoorUnit:
    """A door on no truck."""
    return DoorUnit.objects.create(
        serial=serial or f"D{next(_number)}",
        door_model=door_model or make_door_model(),
        opening_cycles=opening_cycles,
        record_from=record_from,
        retired_on=retired_on,
    )


def make_mounting(
    *,
    door: DoorUnit,
    truck: Truck,
    mounted_on: date = RECORD_FROM,
    removed_on: date | None = None,
    entered_at: datetime | None = None,
) -> Mounting:
    return Mounting.objects.create(
        door=door,
        truck=truck,
        mounted_on=mounted_on,
        removed_on=removed_on,
        entered_at=entered_at or _midnight(mounted_on),
        end_entered_at=_midnight(removed_on) if removed_on else None,
    )


def make_counter(
    *,
    door: DoorUnit,
    serial: str = "",
    fitted_on: date = RECORD_FROM,
    first_value: int = 0,
    removed_on: date | None = None,
    last_value: int | None = None,
    digits: int | None = None,
    counts_per_cycle: int | None = None,
) -> Counter:
    return Counter.objects.create(
        door=door,
        serial=serial or f"C{next(_number)}",
        fitted_on=fitted_on,
        first_value=first_value,
        removed_on=removed_on,
        last_value=last_value,
        digits=digits,
        counts_per_cycle=counts_per_cycle,
        entered_at=_midnight(fitted_on),
        end_entered_at=_midnight(removed_on) if removed_on else None,
    )


def component(code: str) -> Component:
    """One of the components every fleet starts with."""
    return Component.objects.get(code=code)


def task(code: str) -> MaintenanceTask:
    """One of the preventive tasks every fleet starts with."""
    return MaintenanceTask.objects.get(code=code)


def make_part(
    *,
    part_number: str = "",
    name: str = "",
    component: Component | None = None,
    unit_cost: Decimal | None = None,
    lead_time_days: float | None = 10.0,
    fits: Iterable[DoorModel] = (),
) -> Part:
    part_number = part_number or f"P-{next(_number)}"
    part = Part.objects.create(
        part_number=part_number,
        name=name or f"Part {part_number}",
        component=component,
        unit_cost=unit_cost,
        lead_time_days=lead_time_days,
    )
    part.fits.set(fits)
    return part


def make_fitment(
    *,
    door: DoorUnit,
    component: Component,
    position: str = "",
    part: Part | None = None,
    fitted_on: date | None = RECORD_FROM,
    fitted_at_cycles: int | None = 0,
    observed_from_cycles: int | None = None,
    removed_on: date | None = None,
    removed_at_cycles: int | None = None,
    removal: str = "",
    entered_at: datetime | None = None,
) -> Fitment:
    return Fitment.objects.create(
        door=door,
        component=component,
        position=position,
        part=part,
        fitted_on=fitted_on,
        fitted_at_cycles=fitted_at_cycles,
        observed_from_cycles=observed_from_cycles,
        removed_on=removed_on,
        removed_at_cycles=removed_at_cycles,
        removal=removal,
        entered_at=entered_at or _midnight(fitted_on or RECORD_FROM),
        end_entered_at=_midnight(removed_on) if removed_on else None,
    )


def make_reading(
    *,
    door: DoorUnit,
    counter_value: int,
    read_at: datetime = NOW,
    read_by: str = "",
    source: str = Source.HAND,
    ruling: str = "",
    status: str = ReadingStatus.ACCEPTED,
    entered_at: datetime | None = None,
) -> CounterReading:
    return CounterReading.objects.create(
        door=door,
        read_at=read_at,
        counter_value=counter_value,
        read_by=read_by,
        source=source,
        ruling=ruling,
        status=status,
        entered_at=entered_at or read_at,
    )


def make_readings(
    *,
    door: DoorUnit,
    values: Iterable[int],
    first_at: datetime = NOW - timedelta(days=90),
    days_between: float = 7.0,
) -> list[CounterReading]:
    """Accepted readings at equal distances."""
    return [
        make_reading(
            door=door, counter_value=value, read_at=first_at + timedelta(days=days_between * index)
        )
        for index, value in enumerate(values)
    ]


def make_fault(
    *,
    door: DoorUnit,
    found_at: datetime = NOW,
    at_cycles: int | None = None,
    component: Component | None = None,
    mode: str = "",
    complaint: str = "",
    detected_by: str = "",
    is_failure: bool = True,
    action: str = "",
    off_road_from: datetime | None = None,
    off_road_until: datetime | None = None,
    entered_at: datetime | None = None,
) -> Fault:
    return Fault.objects.create(
        door=door,
        found_at=found_at,
        at_cycles=at_cycles,
        component=component,
        mode=mode,
        complaint=complaint,
        detected_by=detected_by,
        is_failure=is_failure,
        action=action,
        off_road_from=off_road_from,
        off_road_until=off_road_until,
        entered_at=entered_at or found_at,
    )


def make_task_done(
    *,
    door: DoorUnit,
    task: MaintenanceTask,
    done_at: datetime = NOW,
    at_cycles: int | None = None,
    done_by: str = "",
    entered_at: datetime | None = None,
) -> TaskDone:
    return TaskDone.objects.create(
        door=door,
        task=task,
        done_at=done_at,
        at_cycles=at_cycles,
        done_by=done_by,
        entered_at=entered_at or done_at,
    )


def make_part_used(
    *,
    door: DoorUnit,
    part: Part,
    used_at: datetime = NOW,
    quantity: int = 1,
    depot: Depot | None = None,
    draws_on_stock: bool = False,
    entered_at: datetime | None = None,
) -> PartUsed:
    used = PartUsed.objects.create(
        door=door,
        part=part,
        used_at=used_at,
        quantity=quantity,
        depot=depot,
        draws_on_stock=draws_on_stock,
        entered_at=entered_at or used_at,
    )
    book_use(used)
    return used


def make_fuse_position(
    *,
    door_model: DoorModel | None = None,
    position: str = "",
    kind: str = "blade fuse",
    amps: float = 20.0,
    volts: float = 58.0,
) -> FusePosition:
    return FusePosition.objects.create(
        door_model=door_model or make_door_model(),
        position=position,
        kind=kind,
        amps=amps,
        volts=volts,
    )


def make_stock_count(
    *,
    depot: Depot,
    part: Part,
    counted_at: datetime = NOW,
    on_hand: int = 0,
    on_order: int = 0,
    expected_on: date | None = None,
    service_level: float | None = None,
    entered_at: datetime | None = None,
) -> StockCount:
    counted = StockCount.objects.create(
        depot=depot,
        part=part,
        counted_at=counted_at,
        on_hand=on_hand,
        on_order=on_order,
        expected_on=expected_on,
        service_level=service_level,
        entered_at=entered_at or counted_at,
    )
    book_count(counted)
    return counted


def make_user(
    *,
    role: Role = Role.TECHNICIAN,
    username: str = "",
    depots: Iterable[Depot] = (),
    is_superuser: bool = False,
) -> User:
    """A person with a role; without depots they see every depot."""
    user = User.objects.create_user(
        username=username or f"person{next(_number)}",
        role=role,
        is_superuser=is_superuser,
        is_staff=is_superuser or role == Role.ADMINISTRATOR,
    )
    user.depots.set(depots)
    return user


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
