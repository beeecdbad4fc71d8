"""A slow, independent judge of one door, one reading at a time: the reference for the fast one.

Written from the rules alone: gamma densities by scipy.stats, digits as text, plain Python state.
Covers a counter no row describes, a dated beginning, and no rulings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scipy.stats import gamma

OK, ROLLOVER, EXCHANGE, SWAPPED, MISREAD, TRUCK, UNCHANGED, UNEXPLAINED, MISCOUNTED = range(9)


@dataclass
class Point:
    value: float
    day: float
    eff: float
    cycles: float
    x: float
    P: float
    seen_day: float
    seen_eff: float
    seen_cycles: float
    row: int


@dataclass
class Said:
    held: bool = False
    cause: int = OK
    cycles: float = math.nan
    suggestion: float = math.nan


def density(step, mean, variance):
    if step < 0:
        return 0.0
    core, wide = 1 / variance, 1 / (9 * variance)
    return 0.97 * gamma.pdf(step + 0.5, core, scale=mean / core) + 0.03 * gamma.pdf(
        step + 0.5, wide, scale=mean / wide
    )


def slips(value, modulus):
    """Intended values: (swaps, misreads, one digit left out or typed twice)."""
    digits = round(math.log10(modulus))
    text = f"{int(value):0{digits}d}"
    swaps = [
        int(text[:i] + text[i + 1] + text[i] + text[i + 2 :])
        for i in range(digits - 1)
        if text[i] != text[i + 1]
    ]
    misreads = [
        int(text[:i] + d + text[i + 1 :])
        for i in range(digits)
        for d in "0123456789"
        if d != text[i]
    ]
    typed = str(int(value)) if value else ""
    longer = {int(typed[:i] + d + typed[i:]) for i in range(len(typed) + 1) for d in "0123456789"}
    shorter = {
        int(typed[:i] + typed[i + 1 :]) for i in range(len(typed) - 1) if typed[i] == typed[i + 1]
    }
    miscounts = sorted(each for each in longer - {int(value)} if each < modulus) + sorted(shorter)
    return swaps, misreads, miscounts


class NaiveJudge:
    """One door."""

    def __init__(self, *, opening, begin, modulus, eff_of, prior, settings):
        m, v = prior
        self.M, self.m, self.v, self.s, self.eff_of = modulus, m, v, settings, eff_of
        eff = eff_of(begin)
        self.base = Point(opening % modulus, begin, eff, opening, m, v, begin, eff, opening, -1)
        self.before = None
        self.held: list[tuple[float, float, float, int]] = []
        self.untold = opening == 0
        self.bare = False
        self.said: list[Said] = []

    def rate_at(self, point, day):
        keep = 0.5 ** (max(day - point.seen_day, 0) / self.s.rate_filter.half_life_days)
        return (
            self.m + keep * (point.x - self.m),
            keep**2 * point.P + (1 - keep**2) * self.v,
        )

    def noise(self, cycles):
        return self.s.rate_filter.dispersion / max(cycles, 0.5) + self.s.rate_filter.noise

    def forward(self, rate, waited):
        """Mean and squared coefficient of variation of the increment."""
        mean = math.exp(rate[0]) * max(waited, 0.5)
        return mean, rate[1] + self.noise(mean)

    def follows(self, step, rate, waited):
        mean, variance = self.forward(rate, waited)
        return density(step + self.M if step < 0 else step, mean, variance)

    def weigh(self, base, mean, variance, waited, value):
        shares, step = self.s.shares, value - base
        turns = round((mean - step) / self.M)
        turns = max(turns, 1) if step < 0 else max(turns, 0)
        weight = [0.0] * 9
        weight[OK] = shares.ok * density(step, mean, variance)
        if turns:
            weight[ROLLOVER] = shares.ok * density(step + turns * self.M, mean, variance)
        reach = mean * (1 + 3 * math.sqrt(variance))
        young = 0.8 / max(reach, 1) if value <= reach else 0.0
        weight[EXCHANGE] = shares.counter_exchange * (young + 0.2 / self.M)
        best = (0.0, math.nan)
        for cause, share, values in zip(
            (SWAPPED, MISREAD, MISCOUNTED),
            (shares.digits_swapped, shares.digit_misread, shares.digits_miscounted),
            slips(value, self.M),
            strict=True,
        ):
            for each in values:
                moved = each - base
                part = density(moved + self.M if moved < 0 else moved, mean, variance)
                part *= share / len(values)
                weight[cause] += part
                if part > best[0]:
                    best = (part, each)
        if step == 0 and waited >= 1:
            weight[UNCHANGED] = 0.98 * shares.unchanged
        weight[UNEXPLAINED] = shares.unexplained / self.M
        total = sum(weight)
        return [w / total for w in weight], turns, best[1], best[0] / total

    def write_hold(self, said, weighed):
        chance, _, suggestion, likely = weighed
        said.held, said.cycles = True, math.nan
        said.cause = max(range(1, 9), key=lambda c: chance[c])
        if likely > self.s.suggestion_chance:
            said.suggestion = suggestion

    def accept(self, day, eff, value, turns, row):
        base = self.base
        cycles = base.cycles + (value - base.value + turns * self.M)
        self.before = replace(base)
        rate = self.rate_at(base, day)
        waited = eff - base.seen_eff
        if self.bare:
            base.seen_day, base.seen_eff, base.seen_cycles = day, eff, cycles
        elif waited >= 0.5:
            seen = math.log((max(cycles - base.seen_cycles, 0) + 0.5) / waited)
            total = rate[1] + self.noise(math.exp(rate[0]) * waited)
            limit = self.s.rate_filter.clip_sd * math.sqrt(total)
            gain = rate[1] / total
            base.x = rate[0] + gain * min(max(seen - rate[0], -limit), limit)
            base.P = (1 - gain) * rate[1]
            base.seen_day, base.seen_eff, base.seen_cycles = day, eff, cycles
        base.value, base.day, base.eff, base.cycles, base.row = value, day, eff, cycles, row
        self.said[row].cycles = cycles
        self.held, self.bare = [], False

    def read(self, day, value):
        row, eff, base = len(self.said), self.eff_of(day), self.base
        self.said.append(Said())
        waited = max(eff - base.eff, 0.5)
        rate = self.rate_at(base, day)
        mean, variance = self.forward(rate, waited)
        weighed = self.weigh(base.value, mean, variance, waited, value)
        ok, rolled = weighed[0][OK], weighed[0][ROLLOVER]
        told_late = weighed[0][UNEXPLAINED] * self.s.opening_untold / self.s.shares.unexplained
        if (
            self.untold
            and base.row < 0
            and value > base.value
            and told_late > ok
            and ok + told_late >= 0.5 * (1 + told_late)
        ):
            self.bare = True
            return self.accept(day, eff, value, 0, row)
        if ok >= 0.5 or rolled > 0.5:
            if rolled > ok:
                self.said[row].cause = ROLLOVER
            return self.accept(day, eff, value, max(weighed[1], 1) if rolled > ok else 0, row)
        if self.settle(day, eff, value, rate):
            return self.accept(day, eff, value, float(value < self.base.value), row)
        self.write_hold(self.said[row], weighed)
        self.held = [(value, day, eff, row), *self.held][:2]
        return None

    def settle(self, day, eff, value, rate):
        floor = math.exp(self.s.follow_margin) / self.M
        if self.before and self.base.row >= 0 and value >= self.before.value:
            new = self.from_before(value, day, eff)
            if new > floor and new >= self.s.retract_ratio * self.from_before(
                self.base.value, self.base.day, self.base.eff
            ):
                self.set_aside(value)
                return True
        scores = [self.follows(value - h[0], rate, eff - h[2]) for h in self.held]
        if scores and max(scores) > floor:
            self.adopt(scores.index(max(scores)), rate)
            return True
        if len(self.held) == 2 and value >= self.held[0][0] > self.held[1][0]:
            (v0, _, e0, _), (v1, _, e1, _) = self.held
            log_rate = math.log(max(v0 - v1, 1) / max(e0 - e1, 0.5))
            line_floor = math.exp(self.s.line_margin) / self.M
            line = (log_rate, self.noise(max(v0 - v1, 1)))
            if (
                log_rate <= math.log(self.s.most_cycles_per_day)
                and self.follows(value - v0, line, eff - e0) > line_floor
            ):
                self.adopt_line(line, rate)
                return True
        return False

    def from_before(self, value, day, eff):
        return self.follows(
            value - self.before.value, self.rate_at(self.before, day), eff - self.before.eff
        )

    def set_aside(self, value):
        wrong, before = self.base, self.before
        waited = max(wrong.eff - before.eff, 0.5)
        mean, variance = self.forward(self.rate_at(before, wrong.day), waited)
        self.said[wrong.row].suggestion = math.nan
        self.write_hold(
            self.said[wrong.row], self.weigh(before.value, mean, variance, waited, wrong.value)
        )
        floor = math.exp(self.s.follow_margin) / self.M
        for v, d, e, row in self.held:
            if before.value <= v <= value and self.from_before(v, d, e) > floor:
                self.said[row].held = False
                self.said[row].cycles = before.cycles + v - before.value
        self.base, self.before = replace(before), None

    def move_to(self, value, day, eff, row, cycles):
        base = self.base
        base.value, base.day, base.eff, base.cycles, base.row = value, day, eff, cycles, row
        base.seen_day, base.seen_eff, base.seen_cycles = day, eff, cycles
        self.said[row].held, self.said[row].cycles = False, cycles

    def adopt(self, slot, rate):
        v, d, e, row = self.held[slot]
        step, base = v - self.base.value, self.base
        if 0 <= step <= self.s.most_cycles_per_day * max(d - base.day, 1):
            cycles = base.cycles + step
        else:
            cycles = base.cycles + math.exp(rate[0]) * max(e - base.eff, 0)
        self.move_to(v, d, e, row, cycles)

    def adopt_line(self, line, rate):
        v, d, e, row = self.held[0]
        self.adopt(1, rate)
        self.move_to(v, d, e, row, self.base.cycles + v - self.base.value)
        self.base.x, self.base.P = line
