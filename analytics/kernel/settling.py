"""What the next reading says of those before it: held ones come back, a wrong one is set aside."""

from __future__ import annotations

import numpy as np

from analytics.kernel.causes import Expected, Verdict
from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.judgement import Settlement
from analytics.kernel.rate_filter import LEAST_EFFECTIVE_DAYS, Rate, count_variance
from analytics.kernel.scan_state import Decision, ScanState, Step


def settle(state: ScanState, step: Step, at: Ints, verdict: Verdict, decision: Decision) -> None:
    """Hold readings, or start again from an earlier one that they follow from.

    Parameters
    ----------
    state : ScanState
    step : Step
    at : (k,) int64, doors whose reading fits nothing known
    verdict : Verdict on these readings, (k,)
    decision : Decision of the step, completed in place
    """
    floor = np.exp(state.settings.follow_margin) / state.modulus[at]
    held = np.stack([_follows_held(state, step, at, 0), _follows_held(state, step, at, 1)])
    slot = np.argmax(held, axis=0)
    back = _follows_before(state, step, at) > floor
    again = ~back & (held.max(axis=0) > floor)
    line_floor = np.exp(state.settings.line_margin) / state.modulus[at]
    in_line = ~back & ~again & (_follows_line(state, step, at) > line_floor)
    _set_aside(state, step, at[back])
    for chosen in (0, 1):
        _adopt(state, step, at[again & (slot == chosen)], chosen)
    _adopt_line(state, step, at[in_line])
    moved = at[back | again | in_line]
    if len(moved):
        decision.accepted[moved] = True
        decision.turns[moved] = step.value[moved] < state.base.value[moved]
        _renew_forecast(state, step, moved)
    stay = np.flatnonzero(~(back | again | in_line))
    _hold(state, step, at[stay], verdict.rows(stay))


def _follows_held(state: ScanState, step: Step, at: Ints, slot: int) -> Floats:
    """Return the density of the step from a held reading, 0 where there is none."""
    slots = state.slots
    waited = np.maximum(step.effective[at] - slots.effective[slot, at], LEAST_EFFECTIVE_DAYS)
    rate = Rate(step.forecast.log_rate[at], step.forecast.variance[at])
    density = state.step_density(at, rate, waited, step.value[at] - slots.value[slot, at])
    return np.where(slots.row[slot, at] >= 0, density, 0.0)


def _follows_line(state: ScanState, step: Step, at: Ints) -> Floats:
    """Return the density of the step from the last held reading at the rate between the last two.

    A door whose use has changed out of all proportion would be held for good otherwise.
    """
    slots = state.slots
    rate = _rate_of_line(state, at)
    waited = np.maximum(step.effective[at] - slots.effective[0, at], LEAST_EFFECTIVE_DAYS)
    density = state.step_density(at, rate, waited, step.value[at] - slots.value[0, at])
    most = np.log(state.settings.most_cycles_per_day)
    possible = np.all(slots.row[:, at] >= 0, axis=0) & (rate.log_rate <= most)
    possible &= (slots.value[0, at] > slots.value[1, at]) & (step.value[at] >= slots.value[0, at])
    return np.where(possible, density, 0.0)


def _rate_of_line(state: ScanState, at: Ints) -> Rate:
    """Return the rate between the last two held readings."""
    slots = state.slots
    cycles = np.maximum(slots.value[0, at] - slots.value[1, at], 1.0) / state.cpc[at]
    waited = np.maximum(slots.effective[0, at] - slots.effective[1, at], LEAST_EFFECTIVE_DAYS)
    return Rate(np.log(cycles / waited), count_variance(cycles, state.settings.rate_filter))


def _follows_before(state: ScanState, step: Step, at: Ints) -> Floats:
    """Return the density of the step from the accepted point before the last one.

    0 where there is none, where a person vouched for the last one, or where the last one
    follows from it better than the new reading does.
    """
    before, base = state.before, state.base
    new = _density_from_before(state, at, step.value[at], step.day[at], step.effective[at])
    last = _density_from_before(state, at, base.value[at], base.day[at], base.effective[at])
    possible = state.has_before[at] & (base.firm[at] == 0) & (base.row[at] >= 0)
    better = new >= state.settings.retract_ratio * last
    return np.where(possible & better & (step.value[at] >= before.value[at]), new, 0.0)


def _density_from_before(
    state: ScanState, at: Ints, value: Floats, day: Floats, effective: Floats
) -> Floats:
    before = state.before
    rate = state.rate_at(before, at, day)
    waited = np.maximum(effective - before.effective[at], LEAST_EFFECTIVE_DAYS)
    return state.step_density(at, rate, waited, value - before.value[at])


def _set_aside(state: ScanState, step: Step, at: Ints) -> None:
    """Take back the last accepted reading of some doors and start again from the one before."""
    if len(at) == 0:
        return
    row = state.base.row[at].astype(np.int64)
    value, day, effective = state.base.value[at], state.base.day[at], state.base.effective[at]
    rate = state.rate_at(state.before, at, day)
    waited = np.maximum(effective - state.before.effective[at], LEAST_EFFECTIVE_DAYS)
    cycles = np.exp(rate.log_rate) * waited
    variance = rate.variance + count_variance(cycles, state.settings.rate_filter)
    expected = Expected(
        state.before.value[at], cycles * state.cpc[at], variance, state.modulus[at], waited
    )
    verdict = state.weigh(expected, row, value)
    state.write_hold(row, verdict)
    state.settlement[row] = Settlement.SET_ASIDE
    state.cycles[row] = np.nan
    state.base.table[:, at] = state.before.table[:, at]
    state.has_before[at] = False
    for slot in (0, 1):
        _reinstate(state, step, at, slot)


def _reinstate(state: ScanState, step: Step, at: Ints, slot: int) -> None:
    """Accept held readings that lie between the restored base and the new reading."""
    slots, base = state.slots, state.base
    at = at[slots.row[slot, at] >= 0]
    value = slots.value[slot, at]
    density = _density_from_before(state, at, value, slots.day[slot, at], slots.effective[slot, at])
    fits = density > np.exp(state.settings.follow_margin) / state.modulus[at]
    fits &= (base.value[at] <= value) & (value <= step.value[at])
    at = at[fits]
    row = slots.row[slot, at]
    state.held[row] = False
    state.settlement[row] = Settlement.ACCEPTED_LATER
    state.cycles[row] = base.cycles[at] + (value[fits] - base.value[at]) / state.cpc[at]
    slots.row[slot, at] = -1


def _adopt(state: ScanState, step: Step, at: Ints, slot: int) -> None:
    """Accept a held reading after all and start again from it.

    A step up that a door can have done is taken at its word; anything else was an exchange
    nobody recorded and is bridged at the usual rate.
    """
    if len(at) == 0:
        return
    slots, base = state.slots, state.base
    row, day = slots.row[slot, at], slots.day[slot, at]
    value, effective = slots.value[slot, at], slots.effective[slot, at]
    counted = (value - base.value[at]) / state.cpc[at]
    most = state.settings.most_cycles_per_day * np.maximum(day - base.day[at], 1.0)
    possible = (counted >= 0) & (counted <= most)
    waited = np.maximum(effective - base.effective[at], 0.0)
    usual = np.exp(step.forecast.log_rate[at]) * waited
    cycles = base.cycles[at] + np.where(possible, counted, usual)
    base.move(at, value, day, effective, cycles)
    base.row[at], base.firm[at] = row, 0.0
    state.held[row], state.cycles[row] = False, cycles
    state.settlement[row] = Settlement.ACCEPTED_LATER
    state.counted[row] = possible & ~state.gap[at]
    state.estimated[row] = ~possible
    state.gap[at] = False
    slots.row[slot, at] = -1


def _adopt_line(state: ScanState, step: Step, at: Ints) -> None:
    """Accept the last two held readings, which the new one continues, and take over their rate."""
    if len(at) == 0:
        return
    rate = _rate_of_line(state, at)
    _adopt(state, step, at, 1)
    slots, base = state.slots, state.base
    row, value = slots.row[0, at], slots.value[0, at]
    cycles = base.cycles[at] + (value - base.value[at]) / state.cpc[at]
    base.move(at, value, slots.day[0, at], slots.effective[0, at], cycles)
    base.row[at], base.log_rate[at], base.variance[at] = row, rate.log_rate, rate.variance
    state.held[row], state.cycles[row] = False, cycles
    state.settlement[row] = Settlement.ACCEPTED_LATER
    slots.row[0, at] = -1


def _renew_forecast(state: ScanState, step: Step, at: Ints) -> None:
    """Forecast again for doors whose base has moved."""
    rate = state.rate_at(state.base, at, step.day[at])
    step.forecast.log_rate[at] = rate.log_rate
    step.forecast.variance[at] = rate.variance


def _hold(state: ScanState, step: Step, at: Ints, verdict: Verdict) -> None:
    if len(at) == 0:
        return
    row = step.row[at]
    state.write_hold(row, verdict)
    state.slots.push(at, step.value[at], step.day[at], step.effective[at], row)
    state.holds_in_row[at] += 1
