"""Month factors: how much more or less than over the year doors work in each month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from analytics.kernel.effective_days import MONTH_STARTS, Calendar, Floats, Ints, door_key
from analytics.kernel.exposure import Flags, Series

FEWEST_MONTHS = 24.0
FEWEST_DOORS = 8
# What is learned counts for n / (n + 6), n = years times doors in fifties, at most 6.
MOST_WEIGHT, HALF_WEIGHT, DOORS_OF_ONE = 6.0, 6.0, 50.0
_YEAR_DAYS, _MONTH_DAYS = 365.25, 30.4375
_LONGEST_STEP_DAYS, _SHORTEST_STEP_DAYS = 62.0, 1.0
_MONTHS_TOUCHED = 4
# A step at three times a door's own yearly rate is no season but another route.
_MOST_APART = 3.0
_DAYS_OF_MONTH: Floats = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@dataclass(frozen=True, eq=False)
class Seasons:
    """What each class's record says about months.

    Parameters
    ----------
    factor : (c, 12), January first, mean 1 over a year; all 1 where nothing was learned
    months : (c,) months of record, counted where at least eight doors were read
    doors : (c,) int64, doors behind the factors
    weight : (c,) in 0..0.5, what the record counts for against no season at all
    """

    factor: Floats
    months: Floats
    doors: Ints
    weight: Floats

    @property
    def learned(self) -> Flags:
        """Which classes have a season of their own, (c,)."""
        return self.weight > 0

    def and_those(self, others: Seasons) -> Seasons:
        """Return these classes and, after them, the others."""
        return Seasons(
            np.concatenate((self.factor, others.factor)),
            np.concatenate((self.months, others.months)),
            np.concatenate((self.doors, others.doors)),
            np.concatenate((self.weight, others.weight)),
        )


@dataclass(frozen=True, eq=False)
class _Steps:
    """Steps set against the year around them: share of its rate, effective days by month."""

    door: Ints
    ratio: Floats
    effective: Floats
    by_month: Floats


def estimate_month_factors(
    series: Series, calendar: Calendar, class_of_door: Ints, *, classes: int
) -> Seasons:
    """Learn each class's month factors from the cycles between readings.

    Parameters
    ----------
    series : Series of n doors
    calendar : Calendar of the same doors, without months
    class_of_door : (n,) int64 in 0..classes-1, -1 = of no class
    classes : int

    Returns
    -------
    Seasons

    Notes
    -----
    Each step between readings, of at most 62 days, is set against the door's own rate over the
    year around its middle, which holds every month once: a route that changes or a fleet that
    gets busier is no season. Non-negative least squares of these shares on the effective days in
    each month give the raw factors. A class speaks only with 24 months in which at least eight
    of its doors were on record; its factors are then drawn to 1: s = 1 + n/(n + 6) (s_raw - 1),
    n = years x doors / 50, at most 6. So at most half of what was seen is believed.
    """
    factor = np.ones((classes, 12))
    months, weight = np.zeros(classes), np.zeros(classes)
    doors = np.zeros(classes, np.int64)
    if len(series.day) == 0:
        return Seasons(factor, months, doors, weight)
    found = _steps(series, calendar)
    for row in range(classes):
        months[row] = _months_on_record(series, class_of_door == row)
        own = class_of_door[found.door] == row
        doors[row] = len(np.unique(found.door[own]))
        if months[row] < FEWEST_MONTHS or doors[row] < FEWEST_DOORS:
            continue
        years = months[row] / 12.0
        size = min(years * doors[row] / DOORS_OF_ONE, MOST_WEIGHT)
        weight[row] = size / (size + HALF_WEIGHT)
        raw = _raw_factors(found.ratio[own], found.effective[own], found.by_month[own])
        factor[row] = 1.0 + weight[row] * (raw - 1.0)
    return Seasons(factor, months, doors, weight)


def _months_on_record(series: Series, chosen: Flags) -> float:
    """Months between the eighth first point and the eighth last one of a class's doors."""
    some = np.flatnonzero(chosen & (np.diff(series.offsets) > 0))
    if len(some) < FEWEST_DOORS:
        return 0.0
    first = np.sort(series.day[series.offsets[some]])[FEWEST_DOORS - 1]
    last = np.sort(series.day[series.offsets[some + 1] - 1])[-FEWEST_DOORS]
    return float(max(last - first, 0.0) / _MONTH_DAYS)


def _steps(series: Series, calendar: Calendar) -> _Steps:
    door = series.door()
    effective = calendar.elapsed(door, series.day)
    day = series.day
    gap = np.diff(day, prepend=day[:1])
    step = (np.diff(door, prepend=-1) == 0) & series.counted
    step &= (gap >= _SHORTEST_STEP_DAYS) & (gap <= _LONGEST_STEP_DAYS)
    rows = np.flatnonzero(step)
    middle = (day[rows] + day[rows - 1]) / 2.0
    opens, closes = middle - _YEAR_DAYS / 2.0, middle + _YEAR_DAYS / 2.0
    at = door[rows]
    whole = (opens >= day[series.offsets[at]]) & (closes <= day[series.offsets[at + 1] - 1])
    rows, at, opens, closes = rows[whole], at[whole], opens[whole], closes[whole]
    keys = door_key(door, day)
    begin, end = door_key(at, opens), door_key(at, closes)
    ran = np.interp(end, keys, series.cycles) - np.interp(begin, keys, series.cycles)
    worked = np.interp(end, keys, effective) - np.interp(begin, keys, effective)
    days = effective[rows] - effective[rows - 1]
    cycles = series.cycles[rows] - series.cycles[rows - 1]
    good = (worked > 0) & (ran > 0) & (days >= _SHORTEST_STEP_DAYS / 2)
    ratio = cycles[good] * worked[good] / (ran[good] * days[good])
    near = np.abs(np.log(np.maximum(ratio, 1e-9))) <= np.log(_MOST_APART)
    rows, at = rows[good][near], at[good][near]
    by_month = _by_month(calendar, at, day[rows - 1], day[rows])
    return _Steps(at, ratio[near], days[good][near], by_month)


def _by_month(calendar: Calendar, door: Ints, start: Floats, end: Floats) -> Floats:
    """Effective days of each step in January, February and so on, (k, 12)."""
    found = np.zeros((len(door), 12))
    first = np.searchsorted(MONTH_STARTS, start, side="right") - 1
    each = np.arange(len(door))
    for further in range(_MONTHS_TOUCHED):
        month = np.clip(first + further, 0, len(MONTH_STARTS) - 2)
        low = np.clip(MONTH_STARTS[month], start, end)
        high = np.clip(MONTH_STARTS[month + 1], start, end)
        days = calendar.elapsed(door, high) - calendar.elapsed(door, low)
        found[each, month % 12] += days
    return found


def _raw_factors(ratio: Floats, effective: Floats, by_month: Floats) -> Floats:
    """Least squares, each step weighted as the count of its days; a month never seen has 1."""
    root = np.sqrt(effective)
    solution, _ = nnls(by_month / root[:, None], ratio * root)
    seen = by_month.sum(axis=0) > 0
    if not seen.any() or solution[seen].sum() <= 0:
        return np.ones(12)
    mean = np.average(solution[seen], weights=_DAYS_OF_MONTH[seen])
    return np.where(seen, np.maximum(solution / mean, 1e-3), 1.0)
