"""Some doors out of a fleet, and the weekdays and months that they teach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Floats, Ints
from analytics.datasets.doors import DoorRows
from analytics.datasets.fleet import UsageRecord
from analytics.kernel.class_priors import (
    ClassPriors,
    door_log_rates,
    estimate_class_priors,
)
from analytics.kernel.effective_days import WORKING_WEEK, Calendar, estimate_weekday_weights
from analytics.kernel.exposure import (
    CounterSegments,
    Doors,
    Increments,
    Readings,
    Series,
    accepted_series,
    increments,
)
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_history import estimate_dispersion, filter_rates
from analytics.kernel.seasons import Seasons, estimate_month_factors

# More doors than this would cost time and teach nothing new about weekdays and months.
MOST_DOORS_TO_LEARN_ON = 1_000


@dataclass(frozen=True)
class UseOverTime:
    """Weekday weights (c, 7) and seasons by route kind and, last, of the fleet; and the scatter.

    `dispersion`: variance over mean of the cycles of a day or two.
    """

    weekday_weights: Floats
    seasons: Seasons
    dispersion: float


def weekday_class(doors: DoorRows) -> Ints:
    """Row of the weekday weights: the route's, or the last where no route is known."""
    return np.where(doors.route >= 0, doors.route, len(doors.route_kinds))


def learn_calendar(fleet: UsageRecord) -> UseOverTime:
    """Weekdays and months by route kind and, last, of the fleet, from some doors' readings."""
    doors, kinds = fleet.doors, len(fleet.doors.route_kinds)
    step = max(1, -(-len(doors) // MOST_DOORS_TO_LEARN_ON))
    chosen = np.arange(0, len(doors), step)
    laid = doors.lay_ups.of_doors(chosen)
    calendar = Calendar(WORKING_WEEK[None, :], np.zeros(len(chosen), np.int64), laid)
    few = _doors_of(fleet.kernel_doors, chosen)
    readings = readings_of(fleet.readings.kernel, chosen)
    counters = _counters_of(fleet.counters, chosen, len(doors))
    rates = door_log_rates(readings, few, counters, calendar)
    prior = class_priors(doors, rates, chosen).for_doors(doors.route[chosen], doors.depot[chosen])
    judgement = judge(few, counters, readings, calendar, prior.rate)
    series, own = accepted_series(few, readings, judgement), weekday_class(doors)[chosen]
    steps = increments(series)
    usual = np.exp(prior.rate.log_rate[steps.door])
    weights = _weekdays(calendar, steps, usual, own, kinds + 1)
    seasons = _seasons(series, Calendar(weights, own, laid), own, kinds)
    followed = filter_rates(series, Calendar(weights, own, laid, seasons.factor), prior.rate)
    return UseOverTime(weights, seasons, estimate_dispersion(series, followed))


def _weekdays(
    calendar: Calendar, steps: Increments, usual: Floats, own: Ints, classes: int
) -> Floats:
    """Each door's cycles are set against what is usual for doors like it.

    So busy ones do not drown the others.
    """
    ran = _without_lay_up(calendar, steps)
    columns = (steps.start_day[ran], steps.end_day[ran], (steps.cycles / usual)[ran])
    every = estimate_weekday_weights(np.zeros(int(ran.sum()), np.int64), *columns, classes=1)
    return estimate_weekday_weights(
        own[steps.door][ran], *columns, classes=classes, default=every[0]
    )


def _seasons(series: Series, calendar: Calendar, own: Ints, kinds: int) -> Seasons:
    """Months of each route kind and, last, of the whole fleet, for doors of no known route."""
    by_kind = estimate_month_factors(series, calendar, own, classes=kinds)
    every = estimate_month_factors(series, calendar, np.zeros(len(own), np.int64), classes=1)
    return by_kind.and_those(every)


def class_priors(doors: DoorRows, rates: Floats, chosen: Ints) -> ClassPriors:
    """What is usual for each route kind, depot and the fleet, from the chosen doors' rates."""
    return estimate_class_priors(
        rates,
        doors.route[chosen],
        doors.depot[chosen],
        route_kinds=len(doors.route_kinds),
        depots=len(doors.depots),
    )


def _without_lay_up(calendar: Calendar, steps: Increments) -> np.ndarray:
    """Which steps hold no day out of use: only these tell what a weekday is worth."""
    whole = calendar.without_lay_ups(steps.door, steps.end_day)
    whole = whole - calendar.without_lay_ups(steps.door, steps.start_day)
    worked = calendar.elapsed(steps.door, steps.end_day)
    worked = worked - calendar.elapsed(steps.door, steps.start_day)
    return worked > whole - 1e-9


def rows_of(offsets: Ints, chosen: Ints) -> Ints:
    """Rows that belong to the chosen doors, door after door."""
    counts = np.diff(offsets)[chosen]
    begins = np.concatenate(([0], np.cumsum(counts)))
    return np.arange(begins[-1]) + np.repeat(offsets[chosen] - begins[:-1], counts)


def readings_of(readings: Readings, chosen: Ints) -> Readings:
    """The readings of the chosen doors."""
    rows = rows_of(readings.offsets, chosen)
    offsets = np.concatenate(([0], np.cumsum(np.diff(readings.offsets)[chosen])))
    return Readings(offsets, readings.day[rows], readings.value[rows], readings.ruling[rows])


def _doors_of(doors: Doors, chosen: Ints) -> Doors:
    return Doors(
        doors.opening_cycles[chosen],
        doors.record_from_day[chosen],
        doors.modulus[chosen],
        doors.counts_per_cycle[chosen],
    )


def _counters_of(counters: CounterSegments, chosen: Ints, doors: int) -> CounterSegments:
    place = np.full(doors, -1)
    place[chosen] = np.arange(len(chosen))
    rows = np.flatnonzero(place[counters.door] >= 0)
    return CounterSegments(
        place[counters.door[rows]],
        counters.first_value[rows],
        counters.last_value[rows],
        counters.modulus[rows],
        counters.counts_per_cycle[rows],
        counters.fitted_day[rows],
        counters.removed_day[rows],
    )
