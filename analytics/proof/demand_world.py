"""One component of a made fleet, week by week: what was known then and what then failed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.demand import PositionCells, UnknownAgeCells, bin_positions, bin_unknown_ages
from analytics.kernel.effective_days import door_key
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import (
    FamilyPrior,
    WeibullDraws,
    prior_of_revision,
    weibull_posterior,
)
from analytics.kernel.shock_batches import BatchedRows, batches_among
from analytics.proof.made_fleet import Floats, Followed, Ints, MadeFleet
from analytics.synthetic.components import FAILED

WEEK, LONGEST_WEEKS, MOST_DAYS_AHEAD = 7, 156, 190

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class UsageThen:
    """Cycles and rate of every door as they were known at the beginning of a day, (n,)."""

    cycles: Floats
    cycles_per_day: Floats


@dataclass(frozen=True, eq=False)
class Positions:
    """Positions in service at a moment, ages known and unknown; None where there are none."""

    known: PositionCells | None
    unknown: UnknownAgeCells | None


@dataclass(frozen=True, eq=False)
class ComponentLives:
    """Lives of one component in order of door and birth; `born`, `ended` in door cycles."""

    door: Ints
    born: Ints
    ended: Ints
    ended_day: Ints
    failed: Flags
    age_known: Flags
    revised: Flags


def lives_of(fleet: MadeFleet, component: str) -> ComponentLives:
    """All lives of a component; of those there at the beginning some are of unknown age."""
    sockets = [each.component for each in fleet.plan.world.sockets]
    before = np.concatenate(([0], np.cumsum([len(block.doors) for block in fleet.blocks])))
    rows = []
    for block, shift in zip(fleet.blocks, before.tolist(), strict=False):
        chosen = block.lives.where(np.isin(block.lives.socket, _places(sockets, component)))
        day = block.usage.day_of(chosen.door, chosen.true_end)
        columns = (chosen.born, chosen.true_end, day, chosen.end == FAILED, chosen.revised)
        rows.append(np.stack((chosen.door + shift, *columns)))
    door, born, ended, day, failed, revised = np.concatenate(rows, axis=1)
    first = (born <= fleet.cycles[door, 0]) & (fleet.cycles[door, 0] > 0)
    lost = np.random.default_rng([fleet.plan.seed, 5]).random(len(door))
    known = ~(first & (lost < fleet.plan.world.unknown_age_share))
    return ComponentLives(door, born, ended, day, failed.astype(bool), known, revised.astype(bool))


def _places(sockets: list[str], component: str) -> list[int]:
    return [place for place, name in enumerate(sockets) if name == component]


def usage_then(fleet: MadeFleet, followed: Followed, day: int) -> UsageThen:
    """Carry every door forward from its last point before that day."""
    now = fleet.first_day + day
    door = np.arange(len(fleet.route))
    series, history = followed.series, followed.history
    keys = door_key(series.door(), series.day)
    last = np.searchsorted(keys, door_key(door, np.full(len(door), now))) - 1
    known = last >= series.offsets[:-1]
    place = np.where(known, last, 0)
    rate = np.exp(np.where(known, history.log_rate[place], followed.prior.log_rate))
    effective = followed.calendar.elapsed(door, np.full(len(door), now))
    since = np.where(known, np.maximum(effective - history.effective[place], 0.0), 0.0)
    base = np.where(known, series.cycles[place], fleet.doors.opening_cycles)
    return UsageThen(base + rate * since, rate)


@dataclass(frozen=True, eq=False)
class BatchesThen:
    """Batches known at the beginning of a day, and which lives they ended."""

    batches: BatchedRows
    ended: Flags


def batches_then(fleet: MadeFleet, lives: ComponentLives, day: int) -> BatchesThen:
    """Find the depot-weeks before a day in which too many failed for chance."""
    weeks, depots = min(day // WEEK, LONGEST_WEEKS), int(fleet.depot.max()) + 1
    begun = day - weeks * WEEK
    rows = np.flatnonzero(lives.failed & (lives.ended_day >= begun) & (lives.ended_day < day))
    depot = fleet.depot[lives.door[rows]]
    found = batches_among(depot, lives.ended_day[rows] - begun, depots=depots, weeks=weeks)
    ended = np.zeros(len(lives.door), bool)
    ended[rows] = found.in_batch
    return BatchesThen(found, ended)


def known_lives(
    fleet: MadeFleet,
    lives: ComponentLives,
    day: int,
    batches: BatchesThen,
    of: Flags | None = None,
) -> Lifetimes:
    """Lives of known age as they stood at the beginning of that day, batches as suspended.

    `of`: those of one revision alone.
    """
    opening = fleet.cycles[lives.door, 0]
    now = fleet.cycles[lives.door, day]
    chosen = lives.age_known & (lives.born < now) & (fleet.start_day[lives.door] < day)
    over = lives.ended <= now
    chosen &= True if of is None else of
    age = (np.where(over, lives.ended, now) - lives.born)[chosen]
    entry = np.maximum(opening - lives.born, 0)[chosen]
    seen = age > entry
    failed = (over & lives.failed & ~batches.ended)[chosen]
    return Lifetimes.from_ages(age[seen], failed[seen], entry[seen])


def draws_by_revision(
    fleet: MadeFleet, lives: ComponentLives, day: int, shocks: BatchesThen
) -> list[tuple[Flags, WeibullDraws]]:
    """Which lives are of a revision, and how long these last; the second once it is on record."""
    found: list[tuple[Flags, WeibullDraws]] = []
    prior = FamilyPrior()
    for of in (~lives.revised, lives.revised):
        known = known_lives(fleet, lives, day, shocks, of)
        if known.lives:
            posterior = weibull_posterior(known, prior)
            found.append((of, posterior.draws(24)))
            prior = prior_of_revision(posterior)
    return found


def positions_then(
    fleet: MadeFleet,
    lives: ComponentLives,
    usage: UsageThen,
    day: int,
    of: Flags | None = None,
    *,
    by_depot: bool = False,
) -> Positions:
    """What sits in the doors in service at the beginning of that day; `of` one revision alone."""
    door = lives.door
    now = fleet.cycles[door, day]
    there = (lives.born <= now) & (lives.ended > now)
    there &= (fleet.start_day[door] < day) & (fleet.end_day[door] > day)
    there &= True if of is None else of
    rate, cycles = usage.cycles_per_day[door], usage.cycles[door]
    age = np.maximum(cycles - lives.born, 0.0)
    known, lost = there & lives.age_known, there & ~lives.age_known
    opening = fleet.doors.opening_cycles[door]
    since = np.maximum(cycles - opening, 0.0)
    depots = int(fleet.depot.max()) + 1

    def of_depots(rows: Flags) -> tuple[Ints | None, int | None]:
        return (fleet.depot[door[rows]], depots) if by_depot else (None, None)

    return Positions(
        bin_positions(age[known], rate[known], *of_depots(known)) if known.any() else None,
        bin_unknown_ages(opening[lost], since[lost], rate[lost], *of_depots(lost))
        if lost.any()
        else None,
    )


def weekly_failures(
    fleet: MadeFleet,
    lives: ComponentLives,
    *,
    first_day: int,
    weeks: int,
    without: Flags | None = None,
) -> Floats:
    """Replacements after failure in each week from a day on, (weeks,), but for some lives."""
    by_day = daily_failures(
        fleet, lives, first_day=first_day, days=weeks * WEEK, without=without
    ).sum(axis=0)
    return by_day.reshape(weeks, WEEK).sum(axis=1).astype(float)


def daily_failures(
    fleet: MadeFleet,
    lives: ComponentLives,
    *,
    first_day: int,
    days: int,
    without: Flags | None = None,
) -> Ints:
    """Replacements after failure at each depot on each day from a day on, (depots, days)."""
    door, depots = lives.door, int(fleet.depot.max()) + 1
    counted = lives.failed if without is None else lives.failed & ~without
    counted = counted & (lives.ended_day >= fleet.start_day[door])
    counted &= (lives.ended_day < fleet.end_day[door]) & (lives.ended_day < fleet.plan.horizon)
    counted &= (lives.ended_day >= first_day) & (lives.ended_day < first_day + days)
    at = fleet.depot[door[counted]] * days + lives.ended_day[counted] - first_day
    return np.bincount(at, minlength=depots * days).reshape(depots, days)


def days_ahead(fleet: MadeFleet, followed: Followed, usage: UsageThen, day: int) -> Floats:
    """What each of the next days counts by its month, running total, (days + 1,)."""
    days = np.arange(MOST_DAYS_AHEAD + 1.0)
    by_class = followed.calendar.season_ahead(fleet.first_day + day, days)
    serving = (fleet.start_day < day) & (fleet.end_day > day)
    rate = np.where(serving, usage.cycles_per_day, 0.0)
    share = np.bincount(followed.calendar.class_of_door, weights=rate, minlength=len(by_class))
    return np.asarray(share @ by_class / share.sum())
