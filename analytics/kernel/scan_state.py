"""Where the walk over readings stands: the last known point of every door, and what was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.causes import Cause, Density, Expected, Verdict, weigh_causes
from analytics.kernel.counters import Timeline
from analytics.kernel.effective_days import Calendar, Floats, Ints
from analytics.kernel.exposure import Codes, Doors, Flags, Readings, Ruling
from analytics.kernel.judgement import Judgement, PlausibilitySettings, Settlement
from analytics.kernel.neighbours import Match, Neighbours
from analytics.kernel.rate_filter import (
    LEAST_EFFECTIVE_DAYS,
    Rate,
    count_variance,
    predict,
    update,
)


@dataclass(frozen=True)
class ScanInput:
    """Everything the walk reads.

    Parameters
    ----------
    doors : Doors, n
    timeline : Timeline of their counters, s
    readings : Readings, r
    counter : (r,) int64, row of the timeline for each reading
    calendar : Calendar
    prior : Rate of similar doors, (n,)
    neighbours : Neighbours, or None
    settings : PlausibilitySettings
    """

    doors: Doors
    timeline: Timeline
    readings: Readings
    counter: Ints
    calendar: Calendar
    prior: Rate
    neighbours: Neighbours | None
    settings: PlausibilitySettings


class Base:
    """The last point each door's counter is known to have passed, and its rate there.

    Columns of one table, so that a whole point is copied in one move: counts shown, day, effective
    days, lifetime cycles, log rate and its variance, the same three for the moment the rate was
    last learned from, row of the reading (-1 none), and whether a person vouched for it.
    """

    def __init__(self, doors: int) -> None:
        self.table = np.zeros((11, doors))
        self.value, self.day, self.effective, self.cycles = self.table[:4]
        self.log_rate, self.variance = self.table[4:6]
        self.seen_day, self.seen_effective, self.seen_cycles = self.table[6:9]
        self.row, self.firm = self.table[9:]

    def move(self, at: Ints, value: Floats, day: Floats, effective: Floats, cycles: Floats) -> None:
        """Put the point of some doors elsewhere and forget what the rate was learned from."""
        self.value[at], self.day[at] = value, day
        self.effective[at], self.cycles[at] = effective, cycles
        self.seen_day[at], self.seen_effective[at] = day, effective
        self.seen_cycles[at] = cycles


class HeldSlots:
    """The two readings held last by each door since something was accepted."""

    def __init__(self, doors: int) -> None:
        self.value, self.day, self.effective = np.zeros((3, 2, doors))
        self.row = np.full((2, doors), -1, np.int64)

    def push(self, at: Ints, value: Floats, day: Floats, effective: Floats, row: Ints) -> None:
        for table, newest in (
            (self.value, value),
            (self.day, day),
            (self.effective, effective),
            (self.row, row),
        ):
            table[1, at] = table[0, at]
            table[0, at] = newest


@dataclass(frozen=True)
class Step:
    """The readings of one step and what was expected of them.

    Parameters
    ----------
    row : (m,) int64, rows of the readings
    value, day, effective : (m,)
    ruling : (m,) int8
    forecast : Rate, (m,)
    expected : Expected, (m,)
    """

    row: Ints
    value: Floats
    day: Floats
    effective: Floats
    ruling: Codes
    forecast: Rate
    expected: Expected


@dataclass(frozen=True)
class Decision:
    """What becomes of the readings of one step; filled in place.

    Parameters
    ----------
    accepted : (m,) bool
    turns : (m,) times the counter passed its highest value since the base
    """

    accepted: Flags
    turns: Floats


class ScanState:
    """State of all doors during the walk; doors in descending order of their readings."""

    def __init__(self, given: ScanInput) -> None:
        self.given = given
        self.settings = given.settings
        counts = np.diff(given.readings.offsets)
        self.order = np.argsort(-counts, kind="stable")
        self.counts = counts[self.order]
        self.start = given.readings.offsets[:-1][self.order]
        self.prior = Rate(given.prior.log_rate[self.order], given.prior.variance[self.order])
        n, rows = len(counts), len(given.readings.day)
        self.effective = given.calendar.elapsed(given.readings.door(), given.readings.day)
        self.base, self.before, self.slots = Base(n), Base(n), HeldSlots(n)
        self.has_before = np.zeros(n, bool)
        self.holds_in_row = np.zeros(n, np.int64)
        self.gap = np.zeros(n, bool)
        self._prepare_output(rows)
        self._begin()

    def _prepare_output(self, rows: int) -> None:
        self.held = np.zeros(rows, bool)
        self.cause = np.zeros(rows, np.int8)
        self.settlement = np.zeros(rows, np.int8)
        self.probability = np.ones(rows, np.float32)
        self.suggested_value, self.cycles = np.full((2, rows), np.nan)
        self.neighbour = np.full(rows, -1, np.int32)
        self.counted = np.ones(rows, bool)
        self.estimated = np.zeros(rows, bool)
        self.base_value = np.full(rows, np.nan)
        # Seven digits are plenty of a chance and of an expectation, and there are very many.
        self.suggested_probability, self.mean, self.variance = np.full(
            (3, rows), np.nan, np.float32
        )

    def _begin(self) -> None:
        """Set every door to the first value of its first counter."""
        timeline, readings, order = self.given.timeline, self.given.readings, self.order
        self.counter = timeline.offsets[:-1][order].copy()
        self.cpc = timeline.counts_per_cycle[self.counter]
        self.modulus = timeline.modulus[self.counter]
        opening = self.given.doors.opening_cycles[order]
        day = timeline.fitted_day[self.counter]
        self.undated = ~np.isfinite(day)
        first = np.minimum(self.start, max(len(readings.day) - 1, 0))
        fallback = readings.day[first] if len(readings.day) else np.zeros(len(order))
        day = np.where(self.undated, np.where(self.counts > 0, fallback, 0.0), day)
        effective = self.given.calendar.elapsed(order, day)
        everyone = np.arange(len(order))
        self.base.move(everyone, timeline.first_value[self.counter], day, effective, opening)
        self.base.log_rate[:] = self.prior.log_rate
        self.base.variance[:] = self.prior.variance
        self.base.row[:] = -1
        self.untold = timeline.implicit[self.counter] & (opening == 0)

    def expect(self, row: Ints, m: int) -> Step:
        readings, base = self.given.readings, self.base
        day, effective = readings.day[row], self.effective[row]
        forecast = predict(
            Rate(base.log_rate[:m], base.variance[:m]),
            Rate(self.prior.log_rate[:m], self.prior.variance[:m]),
            np.maximum(day - base.seen_day[:m], 0.0),
            self.settings.rate_filter,
        )
        waited = np.maximum(effective - base.effective[:m], LEAST_EFFECTIVE_DAYS)
        cycles = np.exp(forecast.log_rate) * waited
        variance = forecast.variance + count_variance(cycles, self.settings.rate_filter)
        expected = Expected(
            base.value[:m].copy(), cycles * self.cpc[:m], variance, self.modulus[:m], waited
        )
        known = ~self.undated[:m]
        self.base_value[row] = expected.base
        self.mean[row[known]] = expected.mean[known]
        self.variance[row] = variance
        return Step(
            row, readings.value[row], day, effective, readings.ruling[row], forecast, expected
        )

    def change_counter(self, at: Ints, target: Ints) -> None:
        """Close the old counters of some doors and begin the new ones."""
        timeline, base = self.given.timeline, self.base
        while len(at):
            last = timeline.last_value[self.counter[at]]
            step = last - base.value[at]
            turned = step + self.modulus[at]
            step = np.where(step < 0, np.where(turned < self.modulus[at] / 2, turned, 0.0), step)
            known = last >= 0
            cycles = base.cycles[at] + np.where(known, step, 0.0) / self.cpc[at]
            self.counter[at] += 1
            new = self.counter[at]
            day = np.maximum(base.day[at], timeline.fitted_day[new])
            effective = self.given.calendar.elapsed(self.order[at], day)
            learned = base.table[6:9, at]
            base.move(at, timeline.first_value[new], day, effective, cycles)
            base.table[6:9, at[known]] = learned[:, known]
            base.row[at], base.firm[at] = -1, 0.0
            self.cpc[at] = timeline.counts_per_cycle[new]
            self.modulus[at] = timeline.modulus[new]
            self.gap[at] |= ~known
            self.has_before[at] = self.undated[at] = self.untold[at] = False
            self.slots.row[:, at] = -1
            at, target = at[new < target], target[new < target]

    def weigh(self, expected: Expected, row: Ints, value: Floats) -> Verdict:
        """Weigh the causes of some readings and note the neighbour they fit."""
        neighbours = self.given.neighbours
        match = Match(np.zeros(len(row)), np.full(len(row), -1))
        if neighbours is not None:
            door = np.searchsorted(self.given.readings.offsets, row, side="right") - 1
            match = neighbours.match(door, self.given.readings.day[row], value)
        self.neighbour[row] = match.door
        return weigh_causes(expected, value, match.density, self.settings.shares)

    def bridge(self, step: Step, at: Ints) -> None:
        """Cross an exchange nobody recorded at the door's usual rate."""
        if len(at) == 0:
            return
        base = self.base
        waited = np.maximum(step.effective[at] - base.effective[at], 0.0)
        cycles = base.cycles[at] + np.exp(step.forecast.log_rate[at]) * waited
        base.move(at, step.value[at], step.day[at], step.effective[at], cycles)
        self.estimated[step.row[at]] = True

    def step_density(self, at: Ints, rate: Rate, waited: Floats, moved: Floats) -> Floats:
        cycles = np.exp(rate.log_rate) * waited
        variance = rate.variance + count_variance(cycles, self.settings.rate_filter)
        modulus = self.modulus[at]
        expected = Expected(moved, cycles * self.cpc[at], variance, modulus, waited)
        return Density.of(expected).at(np.where(moved < 0, moved + modulus, moved))

    def rate_at(self, base: Base, at: Ints, day: Floats) -> Rate:
        return predict(
            Rate(base.log_rate[at], base.variance[at]),
            Rate(self.prior.log_rate[at], self.prior.variance[at]),
            np.maximum(day - base.seen_day[at], 0.0),
            self.settings.rate_filter,
        )

    def write_hold(self, row: Ints, verdict: Verdict) -> None:
        """Note why readings are held; an ordinary step is out of the question by now."""
        cause = verdict.cause((Cause.OK,))
        chance = verdict.chance
        wrong = np.maximum(1.0 - chance[:, Cause.OK], 1e-12)
        self.held[row], self.cause[row] = True, cause
        self.probability[row] = chance[np.arange(len(row)), cause] / wrong
        likely = verdict.suggestion_chance > self.settings.suggestion_chance
        self.suggested_value[row[likely]] = verdict.suggestion[likely]
        self.suggested_probability[row[likely]] = verdict.suggestion_chance[likely]
        self.neighbour[row[cause != Cause.WRONG_TRUCK]] = -1

    def accept(self, step: Step, decision: Decision) -> None:
        """Move the accepted doors on and learn their rate."""
        m, accepted = len(step.row), decision.accepted
        base, before = self.base, self.before
        np.copyto(before.table[:, :m], base.table[:, :m], where=accepted)
        self.has_before[:m] |= accepted
        self.has_before[:m] &= ~(accepted & self.undated[:m])
        moved = step.value - base.value[:m] + decision.turns * self.modulus[:m]
        cycles = base.cycles[:m] + moved / self.cpc[:m]
        waited = step.effective - base.seen_effective[:m]
        learn = accepted & (waited >= LEAST_EFFECTIVE_DAYS) & ~self.gap[:m]
        counted = np.maximum(cycles - base.seen_cycles[:m], 0.0)
        rate = update(
            step.forecast,
            counted,
            np.maximum(waited, LEAST_EFFECTIVE_DAYS),
            self.settings.rate_filter,
        )
        np.copyto(base.log_rate[:m], rate.log_rate, where=learn)
        np.copyto(base.variance[:m], rate.variance, where=learn)
        for column, now in (
            (base.value[:m], step.value),
            (base.day[:m], step.day),
            (base.effective[:m], step.effective),
            (base.cycles[:m], cycles),
            (base.row[:m], step.row),
            (base.firm[:m], step.ruling == Ruling.ACCEPTED),
        ):
            np.copyto(column, now, where=accepted)
        forget = learn | (accepted & self.gap[:m])
        for column, now in (
            (base.seen_day[:m], step.day),
            (base.seen_effective[:m], step.effective),
            (base.seen_cycles[:m], cycles),
        ):
            np.copyto(column, now, where=forget)
        self._write_accepted(step, accepted, cycles)

    def _write_accepted(self, step: Step, accepted: Flags, cycles: Floats) -> None:
        m = len(step.row)
        self.cycles[step.row] = np.where(accepted, cycles, np.nan)
        self.counted[step.row] = ~(accepted & self.gap[:m])
        self.gap[:m] &= ~accepted
        self.undated[:m] &= ~accepted
        waiting = np.flatnonzero(accepted & (self.holds_in_row[:m] > 0))
        if len(waiting):
            settled = self.slots.row[:, waiting]
            self.settlement[settled[settled >= 0]] = Settlement.BORNE_OUT
            self.slots.row[:, waiting] = -1
            self.holds_in_row[waiting] = 0

    def judgement(self) -> Judgement:
        """Return what was found, in the caller's order."""
        readings = self.given.readings
        held_count = np.bincount(
            readings.door(), weights=self.held, minlength=len(self.order)
        ).astype(np.int64)
        self.neighbour[~self.held] = -1
        in_row = np.empty_like(self.holds_in_row)
        in_row[self.order] = self.holds_in_row
        return Judgement(
            held=self.held,
            cause=self.cause,
            probability=self.probability,
            suggested_value=self.suggested_value,
            suggested_probability=self.suggested_probability,
            neighbour=self.neighbour,
            settlement=self.settlement,
            cycles=self.cycles,
            counted=self.counted,
            estimated=self.estimated,
            base=self.base_value,
            mean=self.mean,
            variance=self.variance,
            modulus=self.given.timeline.modulus[self.given.counter],
            accepted=np.diff(readings.offsets) - held_count,
            held_count=held_count,
            holds_in_row=in_row,
        )
