"""The walk over readings behind `plausibility.judge`: one step for all doors at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.causes import Cause, Density, Verdict, other_causes_bound
from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Flags, Ruling
from analytics.kernel.scan_state import Decision, ScanInput, ScanState, Step
from analytics.kernel.settling import settle


def walk(given: ScanInput) -> ScanState:
    """Walk over all readings, the k-th of every door in one step.

    Parameters
    ----------
    given : ScanInput

    Returns
    -------
    ScanState after the last reading
    """
    state = ScanState(given)
    most = int(state.counts[0]) if len(state.counts) else 0
    active = np.searchsorted(-state.counts, -np.arange(most), side="left")
    for k in range(most):
        _step(state, k, int(active[k]))
    return state


def _step(state: ScanState, k: int, m: int) -> None:
    row = state.start[:m] + k
    changed = np.flatnonzero(state.given.counter[row] != state.counter[:m])
    if len(changed):
        state.change_counter(changed, state.given.counter[row[changed]])
    step = state.expect(row, m)
    density = Density.of(step.expected)
    weight = state.settings.shares.ok * density.at(step.value - step.expected.base)
    truck = state.given.neighbours.highest_density() if state.given.neighbours else 0.0
    bound = other_causes_bound(step.expected, density, step.value, state.settings.shares, truck)
    state.probability[row] = weight / (weight + bound)
    accepted = (weight >= bound) & (step.ruling == Ruling.MACHINE) & ~state.undated[:m]
    decision = Decision(accepted, np.zeros(m))
    closer = np.flatnonzero(~accepted)
    if len(closer):
        _look_closer(state, step, closer, decision)
    state.accept(step, decision)


@dataclass(frozen=True)
class Opinion:
    """What is thought of readings that did not pass at first sight, (k,) bool each.

    Parameters
    ----------
    good : accepted by the machine
    ruled : accepted by a person
    rolled : the counter passed its highest value since the base
    bare : accepted without a base worth the name, so that the step says nothing of usage
    exchanged : a person accepted a lower value that no rollover explains
    """

    good: Flags
    ruled: Flags
    rolled: Flags
    bare: Flags
    exchanged: Flags


def _look_closer(state: ScanState, step: Step, at: Ints, decision: Decision) -> None:
    """Decide on the readings that did not pass at first sight."""
    row, ruling = step.row[at], step.ruling[at]
    verdict = state.weigh(step.expected.rows(at), row, step.value[at])
    opinion = _form_opinion(state, step, at, verdict)
    state.bridge(step, at[opinion.exchanged])
    taken = opinion.good | opinion.ruled
    decision.accepted[at] = taken
    decision.turns[at] = np.where(taken & opinion.rolled, np.maximum(verdict.turns, 1.0), 0.0)
    state.gap[at] |= opinion.bare | opinion.exchanged
    likely = np.maximum(verdict.chance[:, Cause.OK], verdict.chance[:, Cause.ROLLOVER])
    state.probability[row] = np.where(opinion.bare, 1.0, likely)
    state.cause[row[opinion.good & opinion.rolled]] = Cause.ROLLOVER
    vouched = row[ruling != Ruling.MACHINE]
    state.cause[vouched], state.probability[vouched] = Cause.RULED, 1.0
    state.held[row[ruling == Ruling.HELD]] = True
    failing = np.flatnonzero((ruling == Ruling.MACHINE) & ~opinion.good)
    if len(failing):
        settle(state, step, at[failing], verdict.rows(failing), decision)


def _form_opinion(state: ScanState, step: Step, at: Ints, verdict: Verdict) -> Opinion:
    moved = step.value[at] - step.expected.base[at]
    ok, turned = verdict.chance[:, Cause.OK], verdict.chance[:, Cause.ROLLOVER]
    machine = step.ruling[at] == Ruling.MACHINE
    ruled = step.ruling[at] == Ruling.ACCEPTED
    first = state.undated[at]
    onward = np.where(moved < 0, moved + state.modulus[at], moved) < state.modulus[at] / 2
    untold = _opening_untold(state, at, verdict, moved) & machine & ~first
    bare = (first & (ruled | (machine & ((moved >= 0) | onward)))) | untold
    likely = (ok >= 0.5) | (turned > 0.5)
    exchanged = ruled & (moved < 0) & (turned <= verdict.chance[:, Cause.COUNTER_EXCHANGE])
    return Opinion(
        good=machine & (bare | (~first & likely)),
        ruled=ruled,
        rolled=np.where(first | ruled, moved < 0, turned > ok) & ~exchanged & ~untold,
        bare=bare,
        exchanged=exchanged,
    )


def _opening_untold(state: ScanState, at: Ints, verdict: Verdict, moved: Floats) -> Flags:
    """Tell where opening cycles of 0 more likely mean that nobody wrote them down."""
    settings = state.settings
    chance = verdict.chance
    weight = chance[:, Cause.UNEXPLAINED] * (settings.opening_untold / settings.shares.unexplained)
    likely = (weight > chance[:, Cause.OK]) & (chance[:, Cause.OK] + weight >= 0.5 * (1.0 + weight))
    return state.untold[at] & (state.base.row[at] < 0) & (moved > 0) & likely
