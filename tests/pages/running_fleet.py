"""A small fleet that runs and fails, recomputed for real: what pages of lives and parts rest on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from analytics.models import Computation
from analytics.recompute import recompute_fleet
from fleetdoors.models import Component, Depot, DoorModel, DoorUnit, Part
from tests.factories import (
    NOW,
    component,
    make_depot,
    make_door,
    make_fault,
    make_fitment,
    make_readings,
    make_truck,
)

CYCLES_A_WEEK = 250
WEEKS = 80
END_CYCLES = CYCLES_A_WEEK * WEEKS
# What happens at the very moment of a run is not known to it: the last reading lies before.
FIRST_READ = NOW - timedelta(weeks=WEEKS, hours=2)


def compute() -> Computation:
    """Rebuild every derived row as of the day of the tests."""
    return recompute_fleet(as_of=NOW, started_at=NOW)


def make_running_door(
    *,
    serial: str = "",
    depot: Depot | None = None,
    door_model: DoorModel | None = None,
    route_kind: str = "",
    cycles_a_week: int = CYCLES_A_WEEK,
) -> DoorUnit:
    """A door that was read every four weeks since it was new."""
    truck = make_truck(depot=depot or make_depot(), route_kind=route_kind)
    door = make_door(
        serial=serial, truck=truck, door_model=door_model, record_from=FIRST_READ.date()
    )
    values = [cycles_a_week * week for week in range(0, WEEKS + 1, 4)]
    make_readings(door=door, values=values, first_at=FIRST_READ, days_between=28)
    return door


def make_failures(
    *, door: DoorUnit, what: Component, ages: Sequence[float], mode: str = "", hours: float = 0.0
) -> None:
    """Failures of a component at so many lifetime cycles of the door, off the road for so long."""
    for age in ages:
        found_at = FIRST_READ + timedelta(weeks=age / CYCLES_A_WEEK)
        make_fault(
            door=door,
            found_at=found_at,
            at_cycles=round(age),
            component=what,
            mode=mode,
            off_road_from=found_at if hours else None,
            off_road_until=found_at + timedelta(hours=hours) if hours else None,
        )


def make_lives(
    *, door: DoorUnit, what: Component, ends: Sequence[float], part: Part | None = None
) -> None:
    """Parts that failed one after another at so many door cycles, and one that still runs."""
    start = 0.0
    for end in ends:
        make_fitment(
            door=door,
            component=what,
            part=part,
            fitted_on=_day(start),
            fitted_at_cycles=round(start),
            removed_on=_day(end),
            removed_at_cycles=round(end),
            removal="failed",
        )
        start = end
    make_fitment(
        door=door,
        component=what,
        part=part,
        fitted_on=_day(start),
        fitted_at_cycles=round(start),
    )


def _day(cycles: float) -> date:
    return (FIRST_READ + timedelta(weeks=cycles / CYCLES_A_WEEK)).date()


def weibull_ends(seed: int, shape: float, scale_cycles: float) -> list[float]:
    """Door cycles at which parts of a Weibull life fail, one after another, within the record."""
    rng, ends, at = np.random.default_rng(seed), [], 0.0
    while True:
        at += max(float(scale_cycles * rng.weibull(shape)), 2.0)
        if at >= END_CYCLES - 1:
            return ends
        ends.append(at)


def make_wearing_fleet(
    *, doors: int, depot: Depot, code: str = "coil_cable", part: Part | None = None
) -> list[DoorUnit]:
    """Doors whose part wears out (shape 3, scale 9,000 cycles), each failure also on record."""
    what, made = component(code), []
    for seed in range(doors):
        door = make_running_door(depot=depot)
        ends = weibull_ends(seed, 3.0, 9_000.0)
        make_lives(door=door, what=what, ends=ends, part=part)
        make_failures(door=door, what=what, ages=ends, mode="FM14", hours=5)
        made.append(door)
    return made
