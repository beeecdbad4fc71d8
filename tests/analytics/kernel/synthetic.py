"""A made fleet with known truth: usage, irregular readings, and slips with their names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Calendar, LayUps
from analytics.kernel.exposure import Doors, Readings

FIRST_DAY = 19_723.0  # 2024-01-01, a Monday
CLASS_RATES = np.array([62.0, 34.0, 14.0, 22.0])
CLASS_SPREAD = np.array([0.40, 0.45, 0.55, 0.50])
WEEKS = np.array(
    [
        [1.2, 1.2, 1.2, 1.2, 1.2, 0.8, 0.2],
        [1.3, 1.3, 1.3, 1.3, 1.3, 0.5, 0.0],
        [1.4, 1.4, 1.4, 1.4, 1.4, 0.0, 0.0],
        [1.0, 1.1, 1.1, 1.1, 1.3, 1.1, 0.3],
    ]
)
SLIPS = ("none", "rollover", "exchange", "swapped", "misread", "wrong_truck", "unchanged", "other")


@dataclass(frozen=True)
class Usage:
    """True cycles: ``total[i, d]`` are those of door i at the start of day d."""

    total: np.ndarray
    route: np.ndarray
    depot: np.ndarray
    lay_ups: LayUps

    @property
    def calendar(self) -> Calendar:
        return Calendar(WEEKS, self.route, self.lay_ups)

    def at(self, door, day):
        """Return true lifetime cycles at moments."""
        place = np.asarray(day) - FIRST_DAY
        whole = np.clip(np.floor(place).astype(int), 0, self.total.shape[1] - 2)
        low, high = self.total[door, whole], self.total[door, whole + 1]
        return np.floor(low + (high - low) * (place - whole))


def make_usage(doors, days, seed, *, changes_per_year=0.5, season=0.1, lay_up_share=0.1):
    """Draw true usage: routes, weekdays, season, drift, route changes, lay-ups, daily scatter."""
    rng = np.random.default_rng(seed)
    route = rng.integers(0, 4, doors)
    depot = rng.integers(0, max(1, doors // 60), doors)
    log_rate = np.log(CLASS_RATES[route]) + CLASS_SPREAD[route] * rng.normal(size=doors)
    level = np.repeat(log_rate[:, None], days, axis=1)
    level += np.cumsum(rng.normal(0, 0.15 / np.sqrt(365), (doors, days)), axis=1)
    jumps = rng.random((doors, days)) < changes_per_year / 365
    for door, day in zip(*np.nonzero(jumps), strict=True):
        new = np.log(CLASS_RATES[route[door]]) + CLASS_SPREAD[route[door]] * rng.normal()
        level[door, day:] += new - level[door, day]
    level += season * np.sin(2 * np.pi * (np.arange(days) + rng.integers(0, 365)) / 365)
    mean = np.exp(level) * WEEKS[route][:, np.arange(days) % 7]
    laid = np.flatnonzero(rng.random(doors) < lay_up_share)
    start = FIRST_DAY + rng.integers(0, days, len(laid))
    length = rng.integers(5, 60, len(laid))
    for door, first, count in zip(laid, (start - FIRST_DAY).astype(int), length, strict=True):
        mean[door, first : first + count] = 0.0
    daily = rng.poisson(rng.gamma(np.maximum(mean, 1e-9) / 2.0, 2.0))
    total = np.concatenate((np.zeros((doors, 1)), np.cumsum(daily, axis=1)), axis=1)
    return Usage(total, route, depot, LayUps(laid, start, start + length))


@dataclass(frozen=True)
class Made:
    """Readings as keyed, and what is true of them."""

    doors: Doors
    readings: Readings
    truth: np.ndarray  # true lifetime cycles at each reading
    intended: np.ndarray  # what the counter really showed
    slip: np.ndarray  # index into SLIPS


def make_readings(usage, seed, *, gap_days=23.0, slip_rate=0.05, digits=5, near_top=0.1):
    """Read counters at irregular moments and spoil a share of the values."""
    rng = np.random.default_rng(seed)
    n, days = usage.total.shape[0], usage.total.shape[1] - 1
    pace = gap_days * np.exp(0.5 * rng.normal(size=n))
    most = int(6 * days / gap_days) + 20
    gaps = rng.gamma(1 / 0.64, 0.64 * pace[:, None], (n, most)) + 0.2
    day = FIRST_DAY + np.cumsum(gaps, axis=1)
    inside = day < FIRST_DAY + days - 1
    door, column = np.nonzero(inside)
    day = day[inside]
    offsets = np.concatenate(([0], np.cumsum(inside.sum(axis=1))))
    modulus = 10.0**digits
    opening = np.floor(rng.random(n) * 0.5 * modulus)
    opening[rng.random(n) < near_top] += 0.45 * modulus
    truth = opening[door] + usage.at(door, day)
    slip = np.zeros(len(door), int)
    slip[rng.random(len(door)) < slip_rate] = -1
    slip[column < 2] = 0
    kinds = rng.choice([2, 3, 4, 5, 6, 7], len(door), p=[0.15, 0.15, 0.25, 0.15, 0.1, 0.2])
    slip = np.where(slip == -1, kinds, 0)
    shift = np.zeros(len(door))
    for row in np.flatnonzero(slip == 2):
        shift[row : offsets[door[row] + 1]] = truth[row] - np.floor(rng.random() * 300)
    intended = (truth - shift) % modulus
    value = intended.copy()
    for row in np.flatnonzero(slip > 2):
        if SLIPS[slip[row]] == "wrong_truck":
            others = np.flatnonzero(usage.depot == usage.depot[door[row]])
            other = rng.choice(others)
            mine = slice(offsets[other], offsets[other + 1])
            value[row] = np.floor(np.interp(day[row], day[mine], intended[mine]))
        else:
            value[row] = _spoil(rng, SLIPS[slip[row]], row, intended, digits)
    slip[(value == intended) & (slip > 2)] = 0
    turned = np.zeros(len(door), bool)
    turned[1:] = np.floor((truth - shift) / modulus)[1:] > np.floor((truth - shift) / modulus)[:-1]
    turned[offsets[:-1][np.diff(offsets) > 0]] = False
    slip[turned & (slip == 0)] = 1
    doors = Doors(opening, np.full(n, FIRST_DAY), np.full(n, modulus), np.ones(n))
    made = Readings(offsets, day, value, np.zeros(len(day), np.int8))
    return Made(doors, made, truth, intended, slip)


def _spoil(rng, kind, row, intended, digits):
    text = f"{int(intended[row]):0{digits}d}"
    if kind == "swapped":
        place = rng.integers(0, digits - 1)
        return float(text[:place] + text[place + 1] + text[place] + text[place + 2 :])
    if kind == "misread":
        place = rng.integers(0, digits)
        return float(text[:place] + str(rng.integers(0, 10)) + text[place + 1 :])
    if kind == "unchanged":
        return intended[row - 1]
    return float(rng.integers(0, 10**digits))
