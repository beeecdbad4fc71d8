"""True cycles of every door on every day: route, weekday, season, drift, jumps and idle spells."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.doors import ROLLED_OVER, DoorBlock
from analytics.synthetic.scenario import ROUTE_CLASSES, Scenario

DISPERSION: Final = 3.0
"""Variance over mean of one day's cycles."""

WORK_STARTS, WORK_MINUTES = 360, 720
"""Cycles are spread evenly over 06:00 to 18:00."""

_ROW: Final = 10**10


@dataclass(frozen=True)
class Changes:
    """Events on doors: parallel arrays of door index, first day, and a last day or a new rate."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    value: NDArray[np.float64]


@dataclass(frozen=True)
class Usage:
    """`cycles[i, t]`: lifetime cycles of door i at the start of day t, shape (n, horizon + 1)."""

    cycles: NDArray[np.int64]
    usual_cycles_per_day: NDArray[np.float64]
    route_changes: Changes
    idle_spells: Changes

    @property
    def horizon(self) -> int:
        return self.cycles.shape[1] - 1

    def at(
        self, door: NDArray[np.int64], day: NDArray[np.int64], minute: NDArray[np.int64]
    ) -> NDArray[np.int64]:
        """Lifetime cycles of each door at a minute of a day."""
        before = self.cycles[door, day]
        worked = np.clip(minute - WORK_STARTS, 0, WORK_MINUTES)
        return before + (self.cycles[door, day + 1] - before) * worked // WORK_MINUTES

    def day_of(self, door: NDArray[np.int64], cycles: NDArray[np.int64]) -> NDArray[np.int64]:
        """Day on which each door reaches these lifetime cycles; `horizon` if it never does."""
        rows = np.arange(len(self.cycles), dtype=np.int64)[:, None] * _ROW
        index = np.searchsorted((self.cycles[:, 1:] + rows).ravel(), cycles + door * _ROW)
        return np.clip(index - door * self.horizon, 0, self.horizon)

    def minute_of(
        self, door: NDArray[np.int64], day: NDArray[np.int64], cycles: NDArray[np.int64]
    ) -> NDArray[np.int64]:
        """First minute of that day at which the door has reached these lifetime cycles."""
        before = self.cycles[door, day]
        done = np.maximum(self.cycles[door, day + 1] - before, 1)
        # Whole numbers rounded up, so that this minute and `at` agree to the cycle.
        return WORK_STARTS - (before - cycles) * WORK_MINUTES // done


def make_usage(
    rng: np.random.Generator,
    doors: DoorBlock,
    *,
    first_day: np.datetime64,
    days: int,
    horizon: int,
    scenario: Scenario,
    turn_cycles: NDArray[np.int64],
) -> Usage:
    """Draw daily cycles and add them up from each door's opening cycles.

    `turn_cycles` is the number of lifetime cycles after which each door's counter rolls over.
    """
    level, changes = route_levels(rng, doors, horizon, scenario)
    usual = np.exp(level[:, 0]).astype(np.float64)
    level += monthly_drift(rng, len(doors), horizon)
    mean = np.exp(level) * calendar_factors(first_day, horizon, scenario)[doors.route]
    mean[:, int(days * scenario.jump_at_share) :] *= scenario.jump_factor
    idle, spells = idle_days(rng, doors, horizon)
    today = np.arange(horizon)
    serving = (today >= doors.start_day[:, None]) & (today < doors.end_day[:, None]) & ~idle
    mean *= serving
    excess = DISPERSION - 1.0
    daily = rng.poisson(rng.standard_gamma(mean / excess) * excess)
    since = np.zeros((len(doors), horizon + 1), dtype=np.int64)
    np.cumsum(daily, axis=1, out=since[:, 1:])
    opening = (doors.age_years * usual * 300).astype(np.int64)
    turned = doors.story == ROLLED_OVER
    crossing = since[:, max(days - 12, 0)]
    turns = np.maximum(1, -(-(crossing + 1) // turn_cycles))
    opening = np.where(turned, turns * turn_cycles - crossing, opening)
    return Usage(since + opening[:, None], usual, changes, spells)


def route_levels(
    rng: np.random.Generator, doors: DoorBlock, horizon: int, scenario: Scenario
) -> tuple[NDArray[np.float32], Changes]:
    """Log of the usual cycles per day, with a new draw from the class at each route change."""
    n = len(doors)
    middle = np.log([kind.median_cycles_per_day for kind in ROUTE_CLASSES])[doors.route]
    spread = np.array([kind.log_sd for kind in ROUTE_CLASSES])[doors.route]
    counts = rng.poisson(scenario.route_changes_per_year * horizon / 365.25, n)
    most = int(counts.max(initial=0))
    draws = middle[:, None] + spread[:, None] * rng.standard_normal((n, most + 1))
    used = np.arange(most) < counts[:, None]
    days = np.sort(np.where(used, rng.integers(1, horizon, (n, most)), horizon), axis=1)
    level = np.broadcast_to(draws[:, :1], (n, horizon)).astype(np.float32)
    today = np.arange(horizon)
    for turn in range(most):
        level = np.where(today >= days[:, turn, None], draws[:, turn + 1, None], level).astype(
            np.float32
        )
    door, turn_of = np.nonzero(days < horizon)
    return level, Changes(door, days[door, turn_of], np.exp(draws[door, turn_of + 1]))


def monthly_drift(rng: np.random.Generator, n: int, horizon: int) -> NDArray[np.float32]:
    """A slow random walk of the log rate with knots every 30 days, straight between them."""
    knots = np.cumsum(rng.normal(0.0, 0.03, (n, horizon // 30 + 2)), axis=1).astype(np.float32)
    month, into = np.divmod(np.arange(horizon), 30)
    share = (into / 30).astype(np.float32)
    return knots[:, month] * (1 - share) + knots[:, month + 1] * share


def calendar_factors(
    first_day: np.datetime64, horizon: int, scenario: Scenario
) -> NDArray[np.float32]:
    """Weekday times season for each route class and day, weekday factors with mean 1."""
    days = first_day + np.arange(horizon)
    weekday = (days.astype("datetime64[D]").astype(np.int64) + 3) % 7
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)
    rows = []
    for kind in ROUTE_CLASSES:
        week = np.array(kind.weekdays) / np.mean(kind.weekdays)
        angle = 2 * np.pi * (of_year - kind.season_peak_day) / 365.25
        rows.append(week[weekday] * (1 + scenario.season_amplitude * np.cos(angle)))
    return np.array(rows, dtype=np.float32)


def idle_days(
    rng: np.random.Generator, doors: DoorBlock, horizon: int
) -> tuple[NDArray[np.bool_], Changes]:
    """Days out of use: at most a few spells a year of about nine days, one per start day."""
    n = len(doors)
    counts = rng.poisson(0.8 * horizon / 365.25, n)
    door = np.repeat(np.arange(n), counts)
    start = rng.integers(0, horizon, len(door))
    _, kept = np.unique(door * horizon + start, return_index=True)
    door, start = door[kept], start[kept]
    length = np.maximum(rng.gamma(1.5, 6.0, len(door)), 1).astype(np.int64)
    stop = np.minimum(start + length, horizon)
    edge = np.zeros((n, horizon + 1), dtype=np.int32)
    np.add.at(edge, (door, start), 1)
    np.add.at(edge, (door, stop), -1)
    return np.cumsum(edge[:, :-1], axis=1) > 0, Changes(door, start, stop.astype(np.float64))
