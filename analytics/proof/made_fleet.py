"""A made fleet as the kernel takes it, with what is true of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.class_priors import door_log_rates, estimate_class_priors
from analytics.kernel.effective_days import (
    WORKING_WEEK,
    Calendar,
    LayUps,
    estimate_weekday_weights,
)
from analytics.kernel.exposure import (
    CounterSegments,
    Doors,
    Readings,
    Series,
    accepted_series,
    increments,
)
from analytics.kernel.judgement import Judgement
from analytics.kernel.neighbours import neighbour_values
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_filter import Rate
from analytics.kernel.rate_history import (
    USAGE_FILTER,
    RateHistory,
    estimate_dispersion,
    filter_rates,
)
from analytics.kernel.seasons import estimate_month_factors
from analytics.synthetic.fleet import Block, FleetPlan, make_block, make_frame
from analytics.synthetic.scenario import CLASS_SHARES

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUTES = len(CLASS_SHARES)
# Shorter spells nobody writes down, and of the others not all.
SHORTEST_LAY_UP_DAYS, WRITTEN_DOWN = 7, 0.6


@dataclass(frozen=True, eq=False)
class MadeFleet:
    """Doors of all blocks; `cycles[i, d]` = true lifetime cycles of door i as day d begins."""

    plan: FleetPlan
    blocks: tuple[Block, ...]
    cycles: Ints
    route: Ints
    depot: Ints
    start_day: Ints
    end_day: Ints
    doors: Doors
    counters: CounterSegments
    lay_ups: LayUps
    readings: Readings
    true_value: Floats
    cause: Ints

    @property
    def first_day(self) -> float:
        """Epoch day on which the record begins."""
        return float(self.plan.first_day.astype(np.int64))

    def known_before(self, day: int) -> Readings:
        """Readings taken before that day of the record."""
        kept = self.readings.day < self.first_day + day
        door = self.readings.door()[kept]
        counts = np.bincount(door, minlength=len(self.route))
        offsets = np.concatenate(([0], np.cumsum(counts)))
        every = self.readings
        return Readings(offsets, every.day[kept], every.value[kept], every.ruling[kept])

    def day_reached(self, door: Ints, cycles: Floats) -> Floats:
        """Epoch day on which each door truly reaches these cycles; inf if it never does."""
        found = np.full(len(door), np.inf)
        for k, (row, wanted) in enumerate(zip(door.tolist(), cycles.tolist(), strict=True)):
            day = int(np.searchsorted(self.cycles[row], wanted))
            if day < self.cycles.shape[1]:
                before = self.cycles[row, max(day - 1, 0)]
                ran = max(int(self.cycles[row, day] - before), 1)
                found[k] = self.first_day + day - 1 + (wanted - before) / ran
        return found


@dataclass(frozen=True, eq=False)
class Followed:
    """Readings judged, and the rates learned from those accepted."""

    calendar: Calendar
    prior: Rate
    judgement: Judgement
    series: Series
    history: RateHistory


def make_fleet(plan: FleetPlan) -> MadeFleet:
    """Make all blocks of a plan and lay them side by side."""
    frame = make_frame(plan)
    blocks = tuple(make_block(plan, frame, index) for index in range(plan.blocks))
    cycles = np.concatenate([block.usage.cycles for block in blocks])
    start = np.concatenate([block.doors.start_day for block in blocks])
    first = float(plan.first_day.astype(np.int64))
    modulus = np.concatenate([block.counters.modulus for block in blocks]).astype(float)
    basis = np.concatenate([block.counters.counts_per_cycle for block in blocks]).astype(float)
    day = np.concatenate([b.readings.day + b.readings.minute / 1440 for b in blocks]) + first
    shown = np.concatenate([block.readings.shown for block in blocks]).astype(float)
    owner = _door_of_all(blocks, [block.readings.door for block in blocks])
    offsets = np.concatenate(([0], np.cumsum(np.bincount(owner, minlength=len(cycles)))))
    return MadeFleet(
        plan=plan,
        blocks=blocks,
        cycles=cycles,
        route=np.concatenate([block.doors.route for block in blocks]),
        depot=np.concatenate([block.doors.depot for block in blocks]),
        start_day=start,
        end_day=np.concatenate([block.doors.end_day for block in blocks]),
        doors=Doors(cycles[:, 0].astype(float), first + start, modulus, basis),
        counters=_recorded_exchanges(blocks, modulus, basis, first),
        lay_ups=_lay_ups(blocks, first),
        readings=Readings(offsets, day, shown, np.zeros(len(day), np.int8)),
        true_value=np.concatenate([block.readings.true_value for block in blocks]).astype(float),
        cause=np.concatenate([block.readings.cause for block in blocks]),
    )


def _door_of_all(blocks: tuple[Block, ...], door: list[Ints]) -> Ints:
    before = np.concatenate(([0], np.cumsum([len(block.doors) for block in blocks])[:-1]))
    return np.concatenate([each + shift for each, shift in zip(door, before, strict=True)])


def _recorded_exchanges(
    blocks: tuple[Block, ...], modulus: Floats, basis: Floats, first: float
) -> CounterSegments:
    kept = [block.exchanges.where(block.exchanges.recorded) for block in blocks]
    door = _door_of_all(blocks, [each.door for each in kept])
    day = np.concatenate([each.day for each in kept]) + first
    value = np.concatenate([each.first_value for each in kept]).astype(float)
    unknown = np.full(len(door), np.nan)
    return CounterSegments(
        door, value, np.full(len(door), -1.0), modulus[door], basis[door], day, unknown
    )


def _lay_ups(blocks: tuple[Block, ...], first: float) -> LayUps:
    spells = [block.usage.idle_spells for block in blocks]
    door = _door_of_all(blocks, [each.door for each in spells])
    start = np.concatenate([each.day for each in spells]) + first
    until = np.concatenate([each.value for each in spells]) + first
    written = np.random.default_rng(len(door)).random(len(door)) < WRITTEN_DOWN
    kept = written & (until - start >= SHORTEST_LAY_UP_DAYS)
    return LayUps(door[kept], start[kept], until[kept])


def follow(fleet: MadeFleet, before_day: int, *, by_month: bool = True) -> Followed:
    """Learn the calendar and classes, judge and follow every door, from what was read by then."""
    readings, doors = fleet.known_before(before_day), fleet.doors
    laid = _known_lay_ups(fleet.lay_ups, fleet.first_day + before_day)
    week = Calendar(WORKING_WEEK[None, :], np.zeros(len(fleet.route), np.int64), laid)
    prior = _prior(fleet, readings, week)
    series = accepted_series(doors, readings, judge(doors, fleet.counters, readings, week, prior))
    steps = increments(series)
    weights = estimate_weekday_weights(
        fleet.route[steps.door],
        steps.start_day,
        steps.end_day,
        steps.cycles / np.exp(prior.log_rate[steps.door]),
        classes=ROUTES,
    )
    calendar = Calendar(weights, fleet.route, laid)
    if by_month:
        seasons = estimate_month_factors(series, calendar, fleet.route, classes=ROUTES)
        calendar = Calendar(weights, fleet.route, laid, seasons.factor)
    prior = _prior(fleet, readings, calendar)
    neighbours = neighbour_values(readings, fleet.depot)
    judgement = judge(doors, fleet.counters, readings, calendar, prior, neighbours=neighbours)
    series = accepted_series(doors, readings, judgement)
    history = filter_rates(series, calendar, prior)
    settings = replace(USAGE_FILTER, dispersion=estimate_dispersion(series, history))
    return Followed(
        calendar, prior, judgement, series, filter_rates(series, calendar, prior, settings)
    )


def _known_lay_ups(spells: LayUps, now: float) -> LayUps:
    """Spells that have begun; one that has not ended yet has no end."""
    begun = spells.from_day < now
    until = np.where(spells.until_day <= now, spells.until_day, np.nan)
    return LayUps(spells.door[begun], spells.from_day[begun], until[begun])


def _prior(fleet: MadeFleet, readings: Readings, calendar: Calendar) -> Rate:
    rates = door_log_rates(readings, fleet.doors, fleet.counters, calendar)
    depots = int(fleet.depot.max()) + 1
    classes = estimate_class_priors(
        rates, fleet.route, fleet.depot, route_kinds=ROUTES, depots=depots
    )
    return classes.for_doors(fleet.route, fleet.depot).rate
