"""A fleet of a given size, written straight into the tables: for measuring, not for checking."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np

from analytics.recompute.store import insert_columns
from fleetdoors.models import (
    Component,
    Depot,
    DoorModel,
    DoorUnit,
    Fitment,
    MaintenanceTask,
    Mounting,
    Part,
    Truck,
)
from inspections.models import CounterReading, Fault, PartUsed, StockCount, TaskDone
from inspections.services.ledger_record import book_what_is_not_booked

START = date(2024, 11, 25)
DAYS = 730
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
ROUTES = ("parcel", "grocery", "linen", "drinks")
USUAL = np.array([60.0, 25.0, 14.0, 22.0])
FITTED = ("converter", "fuse", "control_board", "coil_cable", "motor", "spring", "roller", "switch")
LIFE_CYCLES = 30_000.0
ZONES = ("America/New_York", "America/Chicago", "Europe/London", "UTC")


def make_fleet(doors: int, readings_per_door: int, seed: int = 7) -> None:
    """Doors with readings, work, faults, parts and stock; a few readings are slips."""
    draw = np.random.default_rng(seed)
    depots = _make_places(doors)
    rate = _make_doors(doors, depots, draw)
    day, cycles = _make_readings(rate, readings_per_door, draw)
    _make_work(day, cycles, draw)
    _make_parts(rate, depots, draw)


def _make_places(doors: int) -> int:
    depots = max(2, doors // 1_000)
    insert_columns(
        Depot,
        {
            "code": [f"D{k:03d}" for k in range(depots)],
            "name": [f"Depot {k}" for k in range(depots)],
            "timezone": [ZONES[k % len(ZONES)] for k in range(depots)],
            "setting": ["salt" if k % 2 else "normal" for k in range(depots)],
            "salt_from": ["11-01"] * depots,
            "salt_until": ["03-31"] * depots,
        },
    )
    DoorModel.objects.create(code="RD-6", spring_class_cycles=50_000)
    return depots


def _make_doors(doors: int, depots: int, draw: np.random.Generator) -> np.ndarray:
    depot_ids = np.array(Depot.objects.order_by("code").values_list("pk", flat=True))
    route = np.arange(doors) % len(ROUTES)
    every = range(doors)
    insert_columns(
        Truck,
        {
            "id": [k + 1 for k in every],
            "fleet_number": [f"T{k:06d}" for k in every],
            "depot": depot_ids[np.arange(doors) % depots].tolist(),
            "route_kind": [ROUTES[k] for k in route],
            **{name: [""] * doors for name in ("make", "serial_number", "tire_size", "owner")},
        },
    )
    model = DoorModel.objects.get().pk
    insert_columns(
        DoorUnit,
        {
            "id": [k + 1 for k in every],
            "serial": [f"S{k:06d}" for k in every],
            "door_model": [model] * doors,
            "opening_cycles": [0] * doors,
            "record_from": [START.isoformat()] * doors,
            "revision": [1] * doors,
        },
    )
    insert_columns(
        Mounting,
        {
            "door": [k + 1 for k in every],
            "truck": [k + 1 for k in every],
            "mounted_on": [START.isoformat()] * doors,
            "entered_at": [at_day(0.0)] * doors,
        },
    )
    return USUAL[route] * draw.lognormal(0.0, 0.4, doors)


def _make_readings(
    rate: np.ndarray, per_door: int, draw: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    day = np.sort(draw.uniform(1.0, DAYS, (len(rate), per_door)), axis=1)
    # Of five million moments a few fall into one second; a door is read once in a second.
    day += np.arange(per_door) / 86_400
    steps = np.diff(day, axis=1, prepend=0.0) * rate[:, None]
    cycles = np.cumsum(draw.poisson(np.maximum(steps, 0.01)), axis=1)
    shown = cycles.copy()
    slips = draw.random(shown.shape) < 0.004
    shown[slips] = shown[slips] + draw.integers(20_000, 90_000, int(slips.sum()))
    flat = day.ravel()
    moments = [at_day(each) for each in flat.tolist()]
    empty = [""] * len(flat)
    insert_columns(
        CounterReading,
        {
            "door": np.repeat(np.arange(len(rate)) + 1, per_door).tolist(),
            "read_at": moments,
            "counter_value": shown.ravel().tolist(),
            "read_by": empty,
            "source": ["import"] * len(flat),
            "ruling": empty,
            "status": ["accepted"] * len(flat),
            "entered_at": moments,
            "reason": empty,
        },
    )
    return day, cycles


def _make_work(day: np.ndarray, cycles: np.ndarray, draw: np.random.Generator) -> None:
    """A task at every fourth reading, a fault on every door."""
    tasks = np.array(MaintenanceTask.objects.on_due_lists().values_list("pk", flat=True))
    doors = len(day)
    done, at = day[:, ::4], cycles[:, ::4]
    count = done.size
    insert_columns(
        TaskDone,
        {
            "door": np.repeat(np.arange(doors) + 1, done.shape[1]).tolist(),
            "task": tasks[draw.integers(0, len(tasks), count)].tolist(),
            "done_at": [at_day(each) for each in done.ravel().tolist()],
            "at_cycles": at.ravel().tolist(),
            "done_by": [""] * count,
            "entered_at": [at_day(each) for each in done.ravel().tolist()],
            "reason": [""] * count,
        },
    )
    converter = Component.objects.get(code="converter").pk
    found = draw.uniform(30.0, DAYS, doors)
    moments = [at_day(each) for each in found.tolist()]
    insert_columns(
        Fault,
        {
            "door": (np.arange(doors) + 1).tolist(),
            "found_at": moments,
            "component": [converter] * doors,
            "is_failure": [True] * doors,
            **{
                name: [""] * doors
                for name in ("mode", "complaint", "detected_by", "action", "note", "reason")
            },
            "entered_at": moments,
        },
    )


def _make_parts(rate: np.ndarray, depots: int, draw: np.random.Generator) -> None:
    components = dict(Component.objects.values_list("code", "pk"))
    parts = [
        Part.objects.create(
            part_number=f"P-{code}", name=code, component_id=components[code],
            lead_time_days=21, pack_size=2,
        )
        for code in FITTED
    ]  # fmt: skip
    ran = rate * DAYS
    for part in parts:
        _make_lives(part, ran, draw)
    depot_ids = list(Depot.objects.values_list("pk", flat=True))
    StockCount.objects.bulk_create(
        StockCount(
            depot_id=depot, part=part, counted_at=NOW, entered_at=NOW, on_hand=20, on_order=0
        )
        for depot in depot_ids
        for part in parts
    )
    book_what_is_not_booked()


def _make_lives(part: Part, ran: np.ndarray, draw: np.random.Generator) -> None:
    """One life that failed where it was short enough, and the part that runs now."""
    doors = len(ran)
    life = LIFE_CYCLES * draw.weibull(2.0, doors)
    failed = life < ran
    day = np.where(failed, life / ran * DAYS, 0.0)
    first = np.flatnonzero(failed)
    start, common = at_day(0.0), {"component": part.component_id, "part": part.pk}
    insert_columns(
        Fitment,
        {
            "door": (first + 1).tolist(),
            **{name: [value] * len(first) for name, value in common.items()},
            "position": [""] * len(first),
            "fitted_on": [START.isoformat()] * len(first),
            "fitted_at_cycles": [0] * len(first),
            "removed_on": [at_day(each)[:10] for each in day[first].tolist()],
            "removed_at_cycles": np.maximum(life[first], 1).astype(int).tolist(),
            "removal": ["failed"] * len(first),
            "entered_at": [start] * len(first),
        },
    )
    fitted = np.where(failed, life, 0.0).astype(int)
    insert_columns(
        Fitment,
        {
            "door": [k + 1 for k in range(doors)],
            **{name: [value] * doors for name, value in common.items()},
            "position": [""] * doors,
            "fitted_on": [at_day(each)[:10] for each in day.tolist()],
            "fitted_at_cycles": fitted.tolist(),
            "removal": [""] * doors,
            "entered_at": [start] * doors,
        },
    )
    moments = [at_day(each) for each in day[first].tolist()]
    insert_columns(
        PartUsed,
        {
            "door": (first + 1).tolist(),
            "used_at": moments,
            "part": [part.pk] * len(first),
            "quantity": [1] * len(first),
            "draws_on_stock": [False] * len(first),
            "entered_at": moments,
            "reason": [""] * len(first),
            "taken_back_because": [""] * len(first),
        },
    )


def at_day(day: float) -> str:
    moment = datetime.combine(START, datetime.min.time(), UTC) + timedelta(days=day)
    return f"{moment:%Y-%m-%d %H:%M:%S}"
