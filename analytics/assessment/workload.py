"""The work of the weeks ahead: doors, tasks and severity put before the kernel, and what-ifs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from analytics.assessment.due import COUNTER_READING
from analytics.assessment.severity import is_salt_season
from analytics.assessment.work_base import SEED, WEEKS, WorkBase
from analytics.datasets.catalogue import CONDITIONS
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.depots import Depots
from analytics.kernel.workload import Programme, Standing, Workload, weeks_of_work
from analytics.kernel.workload_range import Range, range_of_draws
from fleetdoors.models import Duty, Setting, SeverityFactor

# Getting at the door, and the final check (common practice, no source).
VISIT_MINUTES = 22.0
# The final check of every visit tries the reverse and reads the counter, within its own minutes.
EVERY_VISIT = (COUNTER_READING, "REV")
# A year is shown in numbers by so many weeks.
PERIOD_WEEKS = 4


@dataclass(frozen=True)
class WhatIf:
    """What is asked to be different; 1 = as it is."""

    usage: float = 1.0
    intervals: float = 1.0
    of_task: str = ""
    visit_minutes: float = VISIT_MINUTES


@dataclass(frozen=True)
class WorkAhead:
    """Minutes by week: of each depot (id in `depot_ids`) and of all, and doings of each task.

    `periods`: by depot and four weeks. `visits`, `doings`: means by depot and week; `by_task`: by
    task and week; `waiting`: minutes by depot due before now.
    """

    depot_ids: Ints
    first_day: float
    by_depot: Range
    periods: Range
    total: Range
    year_of_depot: Range
    year: Range
    visits: Floats
    doings: Floats
    by_task: Floats
    waiting: Floats


def assess_workload(base: WorkBase, what_if: WhatIf, weeks: int = WEEKS) -> WorkAhead:
    """What the weeks ahead bring, by depot and in all."""
    depot = base.doors.depot[base.rows]
    known, group = np.unique(depot, return_inverse=True)
    groups, count = len(known), len(base.rows)
    draws = len(base.paths)
    now = base.paths[:, :, :1]
    cycles = now + what_if.usage * (base.paths[:, :, : weeks + 1] - now)
    pattern, factor = _factors(base, weeks, what_if)
    standing = Standing(
        last_cycles=np.tile(base.last_cycles, (draws, 1)),
        last_day=np.tile(base.last_day, (draws, 1)),
        interval_cycles=np.tile(_interval_cycles(base), (draws, 1)),
        asked_for=np.tile(base.asked_for, (draws, 1)),
        pattern=np.tile(pattern, draws),
    )
    found = weeks_of_work(
        _programme(base, what_if),
        standing,
        factor,
        cycles.reshape(draws * count, weeks + 1),
        first_day=base.first_day,
        group=(np.arange(draws)[:, None] * groups + group).ravel(),
        groups=draws * groups,
        weight=_weights(base, known[group], draws),
    )
    return _summed(base, found, known, draws)


def _programme(base: WorkBase, what_if: WhatIf) -> Programme:
    tasks = base.tasks
    codes = np.array(tasks.codes, dtype=str)
    return Programme(
        interval_days=tasks.interval_days,
        minutes=base.work.minutes,
        planned=tasks.listed & (base.work.needs_visit > 0) & (codes != COUNTER_READING),
        along=np.isin(codes, EVERY_VISIT),
        contains=tasks.contains,
        visit_minutes=what_if.visit_minutes,
    )


def _interval_cycles(base: WorkBase) -> Floats:
    tasks = base.tasks
    by_class = tasks.spring_class_share * base.doors.spring_class_cycles[base.rows, None]
    return np.where(np.isnan(tasks.spring_class_share), tasks.interval_cycles, by_class)


def _factors(base: WorkBase, weeks: int, what_if: WhatIf) -> tuple[Ints, Floats]:
    """Pattern of each door, and the factor of each week, pattern and task, what-if included."""
    depot = base.doors.depot[base.rows]
    key = depot * 4 + base.in_force @ np.array([1, 2])
    kinds, pattern = np.unique(key, return_inverse=True)
    holds = np.zeros((weeks, len(kinds), len(CONDITIONS)), dtype=bool)
    for k, kind in enumerate(kinds.tolist()):
        holds[:, k] = _settings_by_week(base.doors.depots, kind // 4, base.first_day, weeks)
        holds[:, k, CONDITIONS.index(Duty.HIGH_DUTY)] = bool(kind & 1)
        holds[:, k, CONDITIONS.index(Duty.ROUGH_USE)] = bool(kind & 2)
    product = np.exp(holds @ np.log(base.tasks.factors).T)
    chosen = np.array([what_if.of_task in ("", code) for code in base.tasks.codes])
    asked = np.where(chosen, what_if.intervals, 1.0)
    return pattern, np.maximum(product, SeverityFactor.FLOOR) * asked


def _settings_by_week(depots: Depots, depot: int, first_day: float, weeks: int) -> Flags:
    """Conditions of a depot's surroundings in each week, by its first day, (w, c)."""
    found = np.zeros((weeks, len(CONDITIONS)), dtype=bool)
    for word in depots.settings[depot]:
        found[:, CONDITIONS.index(word)] = True
    if Setting.SALT in depots.settings[depot]:
        first = EPOCH_DATE + timedelta(days=int(first_day))
        found[:, CONDITIONS.index(Setting.SALT)] = [
            is_salt_season(first + timedelta(weeks=week), *depots.salt_seasons[depot])
            for week in range(weeks)
        ]
    return found


def _weights(base: WorkBase, depot: Ints, draws: int) -> Floats:
    """How many doors each door of each draw stands for, (draws * n,).

    Where doors were left out, chance gives each a weight anew in every draw, so that the ranges
    tell how much a different choice of doors would have said.
    """
    looked = np.bincount(base.doors.depot, minlength=len(base.doors.depots))
    there = np.zeros(len(looked))
    place = {each: k for k, each in enumerate(base.doors.depots.ids.tolist())}
    for depot_id, count in base.by_depot.items():
        there[place[depot_id]] = count
    scale = there / np.maximum(looked, 1)
    left_out = 1 - 1 / np.maximum(scale[depot], 1.0)
    rng = np.random.default_rng(SEED)
    chance = rng.poisson(1.0, (draws, len(depot))) - 1.0
    return (scale[depot] * (1 + np.sqrt(left_out) * chance)).ravel()


def _summed(base: WorkBase, found: Workload, known: Ints, draws: int) -> WorkAhead:
    """Means and ranges over the draws."""
    groups = len(known)
    minutes = found.minutes.reshape(draws, groups, -1)
    visits, doings = (
        each.reshape(draws, groups, -1).mean(axis=0) for each in (found.visits, found.doings)
    )
    return WorkAhead(
        depot_ids=base.doors.depots.ids[known],
        first_day=base.first_day,
        by_depot=range_of_draws(minutes),
        periods=range_of_draws(_by_period(minutes)),
        total=range_of_draws(minutes.sum(axis=1)),
        year_of_depot=range_of_draws(minutes.sum(axis=2)),
        year=range_of_draws(minutes.sum(axis=(1, 2))),
        visits=visits,
        doings=doings,
        by_task=found.by_task / draws,
        waiting=found.waiting_minutes.reshape(draws, groups).mean(axis=0),
    )


def _by_period(minutes: Floats) -> Floats:
    """Sums of four weeks, (draws, depots, periods); weeks left over at the end form the last."""
    starts = np.arange(0, minutes.shape[2], PERIOD_WEEKS)
    return np.add.reduceat(minutes, starts, axis=2)
