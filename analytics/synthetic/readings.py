"""Counter readings on irregular days, with the faults that counters and readers make, labelled."""

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.doors import BRAND_NEW, STALE, DoorBlock
from analytics.synthetic.usage import Usage

CAUSES: Final = (
    "",
    "rollover",
    "exchange",
    "swapped_digits",
    "wrong_digit",
    "wrong_truck",
    "stuck",
    "other",
)
ROLLOVER, EXCHANGE, SWAPPED, WRONG_DIGIT, WRONG_TRUCK, STUCK, OTHER = range(1, 8)
UNRECORDED_EXCHANGE_PER_READING: Final = 0.004
FAULT_RATES: Final = {
    SWAPPED: 0.006,
    WRONG_DIGIT: 0.009,
    WRONG_TRUCK: 0.006,
    STUCK: 0.004,
    OTHER: 0.010,
}
_ROW: Final = 10**6
_PACE_SD: Final = 0.5
_GAP_CV: Final = 0.8


@dataclass(frozen=True)
class Exchanges:
    """Counters fitted to doors, at the start of a day, ordered by door and day."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    first_value: NDArray[np.int64]
    recorded: NDArray[np.bool_]

    def where(self, keep: NDArray[np.bool_] | NDArray[np.int64]) -> "Exchanges":
        return Exchanges(
            self.door[keep], self.day[keep], self.first_value[keep], self.recorded[keep]
        )


@dataclass(frozen=True)
class Readings:
    """Parallel arrays, ordered by door and day; `cause` indexes CAUSES."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    minute: NDArray[np.int64]
    cycles: NDArray[np.int64]
    true_value: NDArray[np.int64]
    shown: NDArray[np.int64]
    cause: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.door)

    def where(self, keep: NDArray[np.bool_]) -> "Readings":
        return Readings(**{part.name: getattr(self, part.name)[keep] for part in fields(self)})


@dataclass(frozen=True)
class Counters:
    """How each door's counter counts, arrays of shape (n,)."""

    modulus: NDArray[np.int64]
    counts_per_cycle: NDArray[np.int64]


def reading_days(
    rng: np.random.Generator,
    doors: DoorBlock,
    *,
    days: int,
    weekday_of_first: int,
    per_door: float,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Door and day of every reading: gamma gaps at each door's own pace, never on a Sunday."""
    n = len(doors)
    until = np.minimum(doors.end_day, days)
    until = np.where(doors.story == STALE, until - rng.integers(130, 260, n), until)
    served = np.maximum(np.minimum(doors.end_day, days) - doors.start_day, 0)
    pace = np.exp(np.clip(_PACE_SD * rng.standard_normal(n), -1.1, 1.1) + _PACE_SD**2 / 2)
    gap = served.mean() / per_door * 0.96 * pace
    most = int(days / max(gap.min(), 0.5) * 1.3) + 20
    form = 1 / _GAP_CV**2
    steps = rng.gamma(form, 1 / form, (n, most)) * gap[:, None]
    day = np.floor(doors.start_day[:, None] + np.cumsum(steps, axis=1)).astype(np.int64)
    day += (day + weekday_of_first) % 7 == 6
    held = (day < until[:, None]) & (doors.story != BRAND_NEW)[:, None]
    held[:, 1:] &= day[:, 1:] > day[:, :-1]
    door, column = np.nonzero(held)
    key = np.unique(door * _ROW + day[door, column])
    return key // _ROW, key % _ROW


def take_readings(
    rng: np.random.Generator,
    usage: Usage,
    counters: Counters,
    *,
    door: NDArray[np.int64],
    day: NDArray[np.int64],
    depot: NDArray[np.int64],
    recorded: Exchanges,
    fault_scale: float,
) -> tuple[Readings, Exchanges]:
    """Read every counter, put in unrecorded exchanges and reader's faults, and label them."""
    exchanges = with_unrecorded(
        rng, usage, counters, door=door, day=day, recorded=recorded, fault_scale=fault_scale
    )
    free = ~np.isin(door * _ROW + day, exchanges.door * _ROW + exchanges.day)
    door, day = door[free], day[free]
    minute = rng.integers(330, 1141, len(door))
    cycles = usage.at(door, day, minute)
    at = segment_of(exchanges, door, day)
    value = counter_value(usage, counters, exchanges, at=at, door=door, cycles=cycles)
    readings = Readings(
        door, day, minute, cycles, value, value, np.zeros(len(door), dtype=np.int64)
    )
    readings = label_natural(readings, exchanges, at)
    neighbour = neighbour_value(rng, readings, usage, counters, exchanges=exchanges, depot=depot)
    return add_faults(rng, readings, counters, neighbour, fault_scale), exchanges


def with_unrecorded(
    rng: np.random.Generator,
    usage: Usage,
    counters: Counters,
    *,
    door: NDArray[np.int64],
    day: NDArray[np.int64],
    recorded: Exchanges,
    fault_scale: float,
) -> Exchanges:
    """Add exchanges that nobody wrote down, days before a reading, on doors without others."""
    hit = rng.random(len(door)) < UNRECORDED_EXCHANGE_PER_READING * fault_scale
    start = np.argmax(usage.cycles > usage.cycles[:, :1], axis=1)
    hit &= ~np.isin(door, recorded.door) & (day > start[door] + 90)
    _, once = np.unique(door[hit], return_index=True)
    new_door = door[hit][once]
    new_day = day[hit][once] - rng.integers(1, 6, len(once))
    low = rng.integers(0, 300, len(once))
    any_value = (rng.random(len(once)) * counters.modulus[new_door]).astype(np.int64)
    first = np.where(rng.random(len(once)) < 0.8, low, any_value)
    merged = Exchanges(
        np.concatenate([recorded.door, new_door]),
        np.concatenate([recorded.day, new_day]),
        np.concatenate([recorded.first_value, first]),
        np.concatenate([recorded.recorded, np.zeros(len(once), dtype=np.bool_)]),
    )
    return merged.where(np.lexsort((merged.day, merged.door)))


def segment_of(
    exchanges: Exchanges, door: NDArray[np.int64], day: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Index of the exchange that a door's counter on that day came with, -1 for its first one."""
    if len(exchanges.door) == 0:
        return np.full(len(door), -1)
    keys = exchanges.door * _ROW + exchanges.day
    at = np.searchsorted(keys, door * _ROW + day, side="right") - 1
    return np.where((at >= 0) & (exchanges.door[at] == door), at, -1)


def counter_value(
    usage: Usage,
    counters: Counters,
    exchanges: Exchanges,
    *,
    at: NDArray[np.int64],
    door: NDArray[np.int64],
    cycles: NDArray[np.int64],
) -> NDArray[np.int64]:
    """What the counter of that segment shows at these lifetime cycles."""
    first = np.append(exchanges.first_value, 0)[at]
    base = np.append(usage.cycles[exchanges.door, exchanges.day], 0)[at]
    counted = (cycles - base) * counters.counts_per_cycle[door]
    return (first + counted) % counters.modulus[door]


def follows(readings: Readings) -> NDArray[np.bool_]:
    """Whether the row before belongs to the same door."""
    same = np.zeros(len(readings), dtype=np.bool_)
    same[1:] = readings.door[1:] == readings.door[:-1]
    return same


def label_natural(readings: Readings, exchanges: Exchanges, at: NDArray[np.int64]) -> Readings:
    """Label the first reading after a rollover and after an exchange that nobody recorded."""
    same = follows(readings)
    new_segment = same & (at != np.roll(at, 1))
    recorded = np.append(exchanges.recorded, True)[at]
    lower = same & (readings.true_value < np.roll(readings.true_value, 1)) & (at == np.roll(at, 1))
    cause = np.where(lower, ROLLOVER, 0)
    cause = np.where(new_segment & ~recorded, EXCHANGE, cause)
    return replace(readings, cause=cause)


def add_faults(
    rng: np.random.Generator,
    readings: Readings,
    counters: Counters,
    neighbour: NDArray[np.int64],
    fault_scale: float,
) -> Readings:
    """Spoil single readings, never a door's first two, never beside another labelled one."""
    codes = np.array([0, *FAULT_RATES])
    rates = np.array([*FAULT_RATES.values()]) * fault_scale
    drawn = rng.choice(codes, len(readings), p=[1 - rates.sum(), *rates])
    same = follows(readings)
    third = same & np.roll(same, 1)
    clear = (readings.cause == 0) & (np.roll(readings.cause, 1) == 0)
    lonely = (np.roll(drawn, 1) == 0) | ~same
    drawn = np.where(third & clear & lonely, drawn, 0)
    modulus = counters.modulus[readings.door]
    candidates = {
        SWAPPED: swap_digits(rng, readings.true_value, modulus),
        WRONG_DIGIT: change_digit(rng, readings.true_value, modulus),
        WRONG_TRUCK: neighbour,
        STUCK: np.roll(readings.true_value, 1),
        OTHER: (rng.random(len(readings)) * modulus).astype(np.int64),
    }
    shown, cause = readings.true_value.copy(), readings.cause.copy()
    for code, value in candidates.items():
        wrong = (drawn == code) & (value != readings.true_value)
        shown[wrong], cause[wrong] = value[wrong], code
    return replace(readings, shown=shown, cause=cause)


def swap_digits(
    rng: np.random.Generator, value: NDArray[np.int64], modulus: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Exchange two neighbouring digits at a random place."""
    digits = np.log10(modulus).round().astype(np.int64)
    ten = np.power(10, (rng.random(len(value)) * (digits - 1)).astype(np.int64))
    low, high = value // ten % 10, value // (ten * 10) % 10
    return value + (low - high) * (ten * 10 - ten)


def change_digit(
    rng: np.random.Generator, value: NDArray[np.int64], modulus: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Put another digit at a random place."""
    digits = np.log10(modulus).round().astype(np.int64)
    ten = np.power(10, (rng.random(len(value)) * digits).astype(np.int64))
    old = value // ten % 10
    return value + ((old + rng.integers(1, 10, len(value))) % 10 - old) * ten


def neighbour_value(
    rng: np.random.Generator,
    readings: Readings,
    usage: Usage,
    counters: Counters,
    *,
    exchanges: Exchanges,
    depot: NDArray[np.int64],
) -> NDArray[np.int64]:
    """What another door of the depot, a few numbers away, shows at the same moment."""
    n = len(usage.cycles)
    step = rng.integers(1, 6, len(readings)) * rng.choice([-1, 1], len(readings))
    other = np.clip(readings.door + step, 0, n - 1)
    other = np.where(depot[other] == depot[readings.door], other, readings.door)
    cycles = usage.at(other, readings.day, readings.minute)
    at = segment_of(exchanges, other, readings.day)
    value = counter_value(usage, counters, exchanges, at=at, door=other, cycles=cycles)
    return value % counters.modulus[readings.door]
