"""What is known of a door's usage from doors like it: route kind, else depot, else fleet."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from analytics.kernel.counters import Timeline, counter_of_readings, counter_timeline
from analytics.kernel.effective_days import Calendar, Floats, Ints
from analytics.kernel.exposure import Codes, CounterSegments, Doors, Readings
from analytics.kernel.rate_filter import LEAST_EFFECTIVE_DAYS, Rate

FEWEST_DOORS = 8
# A delivery truck's rear door about 20 times a day, give or take a factor of e.
# Common practice, no source.
DEFAULT_LOG_RATE = float(np.log(20.0))
DEFAULT_VARIANCE = 1.0
_DEFAULT_DOORS = 4.0
_LEAST_VARIANCE, _MOST_VARIANCE = 0.04, 2.0
_KEY_SPAN, _KEY_MIDDLE = 64.0, 32.0


class PriorLevel(IntEnum):
    """Which doors stand behind a prior."""

    ROUTE_KIND = 0
    DEPOT = 1
    FLEET = 2
    DEFAULT = 3


@dataclass(frozen=True)
class DoorPriors:
    """Prior of each door.

    Parameters
    ----------
    rate : Rate, (n,) log cycles per effective day and its variance
    level : (n,) int8, see `PriorLevel`
    """

    rate: Rate
    level: Codes


@dataclass(frozen=True)
class ClassPriors:
    """Usage of classes of doors.

    Parameters
    ----------
    route_kind, depot, fleet : Rate of (R,), (D,) and (1,) classes
    route_kind_doors, depot_doors, fleet_doors : doors behind each, same shapes
    """

    route_kind: Rate
    route_kind_doors: Ints
    depot: Rate
    depot_doors: Ints
    fleet: Rate
    fleet_doors: Ints

    def for_doors(self, route_kind: Ints, depot: Ints) -> DoorPriors:
        """Return the prior of each door from the narrowest class with at least 8 doors.

        Parameters
        ----------
        route_kind, depot : (n,) int64, -1 unknown

        Returns
        -------
        DoorPriors
        """
        widest = PriorLevel.FLEET if self.fleet_doors[0] >= FEWEST_DOORS else PriorLevel.DEFAULT
        level = np.full(len(depot), widest, np.int8)
        log_rate = np.full(len(depot), self.fleet.log_rate[0])
        variance = np.full(len(depot), self.fleet.variance[0])
        for own, rate, doors, code in (
            (depot, self.depot, self.depot_doors, PriorLevel.DEPOT),
            (route_kind, self.route_kind, self.route_kind_doors, PriorLevel.ROUTE_KIND),
        ):
            known = np.flatnonzero(own >= 0)
            known = known[doors[own[known]] >= FEWEST_DOORS]
            log_rate[known] = rate.log_rate[own[known]]
            variance[known] = rate.variance[own[known]]
            level[known] = code
        return DoorPriors(Rate(log_rate, variance), level)


def door_log_rates(
    readings: Readings, doors: Doors, counters: CounterSegments, calendar: Calendar
) -> Floats:
    """Return each door's usual log rate from readings nobody has judged yet.

    Parameters
    ----------
    readings : Readings of n doors
    doors : Doors
    counters : CounterSegments
    calendar : Calendar

    Returns
    -------
    (n,) log cycles per effective day; nan without a usable step

    Notes
    -----
    The median over steps on one counter that do not fall and span at least half an effective day,
    so that a slip now and then does no harm. A door without such a step is given the one from its
    dated beginning to its first reading.
    """
    timeline = counter_timeline(doors, counters, readings)
    counter = counter_of_readings(timeline, readings)
    door = readings.door()
    waited = np.diff(calendar.elapsed(door, readings.day))
    step = np.diff(readings.value)
    usable = (np.diff(counter) == 0) & (step >= 0) & (waited >= LEAST_EFFECTIVE_DAYS)
    usable &= np.diff(door) == 0
    rows = np.flatnonzero(usable)
    cycles = step[rows] / timeline.counts_per_cycle[counter[rows]]
    usual = grouped_median(door[rows], np.log((cycles + 0.5) / waited[rows]), len(doors))
    return np.where(np.isnan(usual), _first_log_rates(readings, timeline, calendar), usual)


def _first_log_rates(readings: Readings, timeline: Timeline, calendar: Calendar) -> Floats:
    """Return the log rate from each dated beginning to the first reading, nan where none."""
    found = np.full(len(readings.offsets) - 1, np.nan)
    counter = timeline.offsets[:-1]
    dated = np.isfinite(timeline.fitted_day[counter])
    some = np.flatnonzero((np.diff(readings.offsets) > 0) & dated)
    row, first = readings.offsets[some], counter[some]
    waited = calendar.elapsed(some, readings.day[row]) - calendar.elapsed(
        some, timeline.fitted_day[first]
    )
    cycles = (readings.value[row] - timeline.first_value[first]) / timeline.counts_per_cycle[first]
    usable = (cycles >= 0) & (waited >= LEAST_EFFECTIVE_DAYS)
    found[some[usable]] = np.log((cycles[usable] + 0.5) / waited[usable])
    return found


def grouped_median(group: Ints, value: Floats, groups: int) -> Floats:
    """Return the median of each group.

    Parameters
    ----------
    group : (k,) int64 in 0..groups-1
    value : (k,) within -32 and 32; cut off beyond
    groups : int

    Returns
    -------
    (groups,) nan for an empty group
    """
    cut = np.clip(value, -_KEY_MIDDLE, _KEY_MIDDLE - 1e-6) + _KEY_MIDDLE
    key = np.sort(group * _KEY_SPAN + cut)
    size = np.bincount(group, minlength=groups)
    start = np.concatenate(([0], np.cumsum(size)[:-1]))
    some = np.flatnonzero(size)
    middle = np.full(groups, np.nan)
    low = key[start[some] + (size[some] - 1) // 2]
    high = key[start[some] + size[some] // 2]
    middle[some] = (low + high) / 2 - some * _KEY_SPAN - _KEY_MIDDLE
    return middle


def estimate_class_priors(
    door_log_rate: Floats, route_kind: Ints, depot: Ints, *, route_kinds: int, depots: int
) -> ClassPriors:
    """Estimate the usage of each class from its doors.

    Parameters
    ----------
    door_log_rate : (n,) log cycles per effective day; nan is passed over
    route_kind, depot : (n,) int64, -1 unknown
    route_kinds, depots : int, number of classes

    Returns
    -------
    ClassPriors

    Notes
    -----
    Median, and spread by the median absolute deviation (times 1.4826, the factor for a normal).
    A fleet of fewer than 8 doors is mixed with the default, which counts as 4 doors. A class
    without doors is given the fleet's values.
    """
    known = np.flatnonzero(np.isfinite(door_log_rate))
    log_rate = door_log_rate[known]
    default = Rate(np.array([DEFAULT_LOG_RATE]), np.array([DEFAULT_VARIANCE]))
    whole = _class_rates(log_rate, np.zeros(len(known), np.int64), 1, default)
    if len(known) < FEWEST_DOORS:
        share = len(known) / (len(known) + _DEFAULT_DOORS)
        mixed = default.log_rate + share * (whole.log_rate - default.log_rate)
        whole = Rate(mixed, default.variance)
    return ClassPriors(
        _class_rates(log_rate, route_kind[known], route_kinds, whole),
        _doors_of(route_kind[known], route_kinds),
        _class_rates(log_rate, depot[known], depots, whole),
        _doors_of(depot[known], depots),
        whole,
        np.array([len(known)]),
    )


def _doors_of(own: Ints, classes: int) -> Ints:
    return np.bincount(own[own >= 0], minlength=classes)


def _class_rates(log_rate: Floats, own: Ints, classes: int, fallback: Rate) -> Rate:
    """Return median and spread of each class, the fallback for a class without doors."""
    rows = np.flatnonzero(own >= 0)
    middle = grouped_median(own[rows], log_rate[rows], classes)
    apart = np.abs(log_rate[rows] - middle[own[rows]])
    spread = 1.4826 * grouped_median(own[rows], apart, classes)
    variance = np.clip(spread * spread, _LEAST_VARIANCE, _MOST_VARIANCE)
    empty = np.isnan(middle)
    return Rate(
        np.where(empty, fallback.log_rate[0], middle),
        np.where(empty, fallback.variance[0], variance),
    )
