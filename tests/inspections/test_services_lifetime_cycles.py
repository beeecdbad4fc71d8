"""The plain sum for one door agrees with hand counts and with the kernel's sum for all doors."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import (
    CounterSegments,
    Doors,
    Readings,
    Ruling,
    accepted_series,
    cycles_at,
)
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_filter import Rate
from fleetdoors.models import DoorUnit
from inspections.models import ReadingStatus
from inspections.services.lifetime_cycles import lifetime_cycles_at, lifetime_points
from tests.factories import NOW, make_counter, make_door, make_door_model, make_reading

pytestmark = pytest.mark.django_db


def day(number: int) -> datetime:
    return datetime(2026, 1, 1, 12, tzinfo=UTC) + timedelta(days=number)


def read(door: DoorUnit, *values: tuple[int, int]) -> None:
    for number, value in values:
        make_reading(door=door, counter_value=value, read_at=day(number))


def cycles(door: DoorUnit) -> list[float]:
    return [point.cycles for point in lifetime_points(door)]


def test_a_counter_without_a_row_showed_the_opening_cycles() -> None:
    door = make_door(opening_cycles=1_000)
    read(door, (0, 1_000), (10, 1_400))
    assert cycles(door) == [1_000, 1_400]


def test_a_counter_that_counts_movements_is_halved() -> None:
    door = make_door(door_model=make_door_model(counts_per_cycle=2), opening_cycles=1_000)
    read(door, (0, 2_000), (10, 2_800))
    assert cycles(door) == [1_000, 1_400]


def test_a_value_lower_than_before_has_rolled_over() -> None:
    door = make_door(door_model=make_door_model(counter_digits=5), opening_cycles=99_640)
    read(door, (0, 99_640), (7, 210))
    assert cycles(door) == [99_640, 100_210]


def test_an_exchange_adds_up_both_counters() -> None:
    door = make_door()
    make_counter(door=door, first_value=0, removed_on=date(2026, 1, 11), last_value=520)
    make_counter(door=door, fitted_on=date(2026, 1, 11), first_value=40)
    read(door, (0, 300), (9, 500), (20, 140))
    assert cycles(door) == [300, 500, 620]


def test_held_readings_do_not_count() -> None:
    door = make_door()
    read(door, (0, 100), (10, 200))
    make_reading(door=door, counter_value=9, read_at=day(5), status=ReadingStatus.HELD)
    assert cycles(door) == [100, 200]


@pytest.mark.parametrize(
    ("moment", "expected"), [(-5, 100), (0, 100), (5, 150), (10, 200), (15, 250)]
)
def test_between_readings_by_the_line_and_after_at_the_last_rate(
    moment: int, expected: int
) -> None:
    door = make_door()
    read(door, (0, 100), (10, 200))
    assert lifetime_cycles_at(door=door, moment=day(moment)) == expected


def test_one_reading_is_carried_forward_as_it_is() -> None:
    door = make_door()
    read(door, (0, 100))
    assert lifetime_cycles_at(door=door, moment=day(40)) == 100


def test_without_a_reading_nobody_knows() -> None:
    assert lifetime_cycles_at(door=make_door(), moment=NOW) is None


def test_the_kernel_says_the_same() -> None:
    """Two counters with their own digits and count basis, a rollover, and moments between."""
    door = make_door(opening_cycles=49_900, record_from=date(2026, 1, 1))
    make_counter(
        door=door,
        serial="A",
        fitted_on=date(2026, 1, 1),
        first_value=99_800,
        digits=5,
        counts_per_cycle=2,
        removed_on=date(2026, 2, 20),
        last_value=900,
    )
    make_counter(door=door, serial="B", fitted_on=date(2026, 2, 20), first_value=70, digits=4)
    values = [(3, 99_950), (20, 300), (40, 700), (60, 200), (80, 640)]
    read(door, *values)
    moments = [5, 20, 33, 45, 79]
    ours = [lifetime_cycles_at(door=door, moment=day(number)) for number in moments]
    assert ours == pytest.approx(kernel_cycles(values, moments), abs=0.51)


def epoch_day(moment: datetime) -> float:
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(days=1)


def kernel_cycles(values: list[tuple[int, int]], moments: list[int]) -> list[float]:
    """The same door, handed to the kernel as arrays."""
    first = float((date(2026, 1, 1) - date(1970, 1, 1)).days)
    exchange = float((date(2026, 2, 20) - date(1970, 1, 1)).days)
    doors = Doors(
        opening_cycles=np.array([49_900.0]),
        record_from_day=np.array([np.nan]),
        modulus=np.array([1e6]),
        counts_per_cycle=np.array([1.0]),
    )
    counters = CounterSegments(
        door=np.array([0, 0]),
        first_value=np.array([99_800.0, 70.0]),
        last_value=np.array([900.0, -1.0]),
        modulus=np.array([1e5, 1e4]),
        counts_per_cycle=np.array([2.0, 1.0]),
        fitted_day=np.array([first, exchange]),
        removed_day=np.array([exchange, np.nan]),
    )
    readings = Readings(
        offsets=np.array([0, len(values)]),
        day=np.array([epoch_day(day(number)) for number, _ in values]),
        value=np.array([float(value) for _, value in values]),
        ruling=np.full(len(values), Ruling.ACCEPTED, np.int8),
    )
    prior = Rate(np.array([3.0]), np.array([1.0]))
    judgement = judge(doors, counters, readings, Calendar.plain(1), prior)
    series = accepted_series(doors, readings, judgement)
    days = np.array([epoch_day(day(number)) for number in moments])
    return list(cycles_at(series, np.zeros(len(moments), np.int64), days).cycles)
