"""A year of preventive work ahead: what was printed, and what the made fleet then needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.calibration import calibrate
from analytics.kernel.effective_days import door_key
from analytics.kernel.exposure import Flags, Ints, cycles_at
from analytics.kernel.rate_filter import Rate
from analytics.kernel.rate_history import USAGE_FILTER
from analytics.kernel.usage import Usage, usage_at
from analytics.kernel.usage_paths import SEASON_SD, WEEK_DAYS, draw_cycles
from analytics.kernel.workload import Programme, Standing, weeks_of_work
from analytics.kernel.workload_range import Range, range_of_draws
from analytics.proof.claim import Claim, Effort, Floats, share_inside
from analytics.proof.made_fleet import Followed, MadeFleet, follow, make_fleet
from analytics.synthetic.fleet import FleetPlan

GROUP = "workload"
DOORS, DAYS, WEEKS, DRAWS = 600, 900, 52, 24
VISIT_MINUTES = 22.0
# Cycles, days and minutes of an invented programme: monthly, quarterly, half-yearly, yearly.
TASKS = (
    (2_500.0, 30.0, 0.0),
    (5_000.0, 90.0, 15.0),
    (5_000.0, 90.0, 21.0),
    (10_000.0, 180.0, 48.0),
    (25_000.0, 365.0, 120.0),
)
YEARLY = len(TASKS) - 1
# From this week of the year ahead on, roads are salted and the intervals shorter.
SALT_WEEKS, SALT_FACTOR = (20, 41), 0.6
# What ranges said to hold 8 times in 10 may hold: of weeks, and of the few years of depots, which
# share their fleet's season.
COVER_WEEKS, COVER_YEARS = (0.72, 0.88), (0.6, 1.0)


@dataclass(frozen=True)
class Year:
    """Minutes by depot and week, by depot, and in all: the ranges printed, and what was needed."""

    weeks: Range
    depots: Range
    total: Range
    needed: Floats

    @property
    def weeks_held(self) -> float:
        """Share of the depots' weeks whose range held what was needed."""
        return share_inside(self.weeks.lower, self.needed, self.weeks.upper)

    @property
    def depots_held(self) -> float:
        """Share of the depots' years whose range held what was needed."""
        return share_inside(self.depots.lower, self.needed.sum(axis=1), self.depots.upper)


def claims(effort: Effort) -> list[Claim]:
    """Hours of a year, printed and needed; and how often the ranges of depots held."""
    years = [year_ahead(seed) for seed in range(71, 71 + effort.runs(8, 2))]
    first = years[0]
    weeks, depots = (
        float(np.mean([getattr(year, name) for year in years]))
        for name in ("weeks_held", "depots_held")
    )
    ratio = float(np.mean([year.weeks.mean.sum() / year.needed.sum() for year in years]))
    return [
        Claim(
            GROUP,
            "hours that a made fleet then needs in its year, in the range printed before",
            float(first.needed.sum()) / 60,
            float(first.total.lower) / 60,
            float(first.total.upper) / 60,
        ),
        Claim(GROUP, "80 % range of a depot's year holds what it needs", depots, *COVER_YEARS),
        Claim(GROUP, "80 % range of a depot's week holds what it needs", weeks, *COVER_WEEKS),
        Claim(GROUP, "minutes foreseen over minutes needed", ratio, 0.97, 1.03),
    ]


def year_ahead(seed: int) -> Year:
    """Foresee one fleet's year from what was read of it, then let the year happen."""
    plan = FleetPlan(DOORS, DAYS, seed, future_days=int(WEEKS * WEEK_DAYS) + 1)
    fleet = make_fleet(plan)
    followed = follow(fleet, DAYS)
    now = fleet.first_day + DAYS
    calibration = calibrate(followed.series, followed.history, now, followed.calendar)
    usage = usage_at(
        now,
        followed.series,
        followed.history,
        followed.calendar,
        prior=followed.prior,
        calibration=calibration,
    )
    door = np.flatnonzero(
        (np.diff(followed.series.offsets) >= 3)
        & (fleet.start_day < DAYS - 400)
        & (fleet.end_day >= plan.horizon)
    )
    last_day = _last_visits(followed, door, now, np.random.default_rng(seed))
    paths = _paths(fleet, followed, usage, door, seed)
    foreseen = _foreseen(fleet, followed, door, last_day, paths)
    needed = _needed(fleet, door, last_day)
    return Year(
        range_of_draws(foreseen),
        range_of_draws(foreseen.sum(axis=2)),
        range_of_draws(foreseen.sum(axis=(1, 2))),
        needed,
    )


def _last_visits(followed: Followed, door: Ints, now: float, rng: np.random.Generator) -> Floats:
    """When each task was last done, (n, t): at some reading within its interval, or the last."""
    series = followed.series
    every = np.array([days for _cycles, days, _minutes in TASKS])
    wanted = now - rng.uniform(0, 1, (len(door), len(every))) * every
    key = door_key(np.repeat(door, len(every)), wanted.ravel())
    at = np.searchsorted(door_key(series.door(), series.day), key, side="right") - 1
    return series.day[np.maximum(at, 0)].reshape(wanted.shape)


def _paths(fleet: MadeFleet, followed: Followed, usage: Usage, door: Ints, seed: int) -> Floats:
    begins = fleet.first_day + DAYS + WEEK_DAYS * np.arange(WEEKS + 1)
    days = followed.calendar.without_lay_ups(
        np.repeat(door, len(begins)), np.tile(begins, len(door))
    )
    return draw_cycles(
        usage.last_cycles[door],
        usage.effective_since[door],
        Rate(usage.log_rate[door], usage.variance[door]),
        Rate(followed.prior.log_rate[door], followed.prior.variance[door]),
        USAGE_FILTER,
        week_days=np.diff(days.reshape(len(door), -1), axis=1),
        season_sd=np.full(len(door), SEASON_SD),
        draws=DRAWS,
        rng=np.random.default_rng(seed),
    )


def _foreseen(
    fleet: MadeFleet, followed: Followed, door: Ints, last_day: Floats, paths: Floats
) -> Floats:
    """Minutes by draw, depot and week, from what was read before the year began."""
    rows, tasks = last_day.shape
    cycles, days, minutes = np.array(TASKS).T
    each = np.repeat(door, tasks)
    read = cycles_at(followed.series, each, last_day.ravel()).cycles.reshape(rows, tasks)
    begun = fleet.doors.opening_cycles[door]
    standing = Standing(
        last_cycles=np.tile(np.where(np.isnan(read), begun[:, None], read), (DRAWS, 1)),
        last_day=np.tile(last_day, (DRAWS, 1)),
        interval_cycles=np.broadcast_to(cycles, (DRAWS * rows, tasks)),
        asked_for=np.zeros((DRAWS * rows, tasks), bool),
        pattern=np.zeros(DRAWS * rows, np.int64),
    )
    contains = np.eye(tasks, dtype=bool)
    contains[YEARLY] = True
    along = np.arange(tasks) == 0
    programme = Programme(days, minutes, np.ones(tasks, bool), along, contains, VISIT_MINUTES)
    depots = int(fleet.depot.max()) + 1
    group = (np.arange(DRAWS)[:, None] * depots + fleet.depot[door]).ravel()
    found = weeks_of_work(
        programme,
        standing,
        _salt()[:, None, None] * np.ones((1, 1, tasks)),
        paths.reshape(DRAWS * rows, WEEKS + 1),
        first_day=fleet.first_day + DAYS,
        group=group,
        groups=DRAWS * depots,
    )
    return found.minutes.reshape(DRAWS, depots, WEEKS)


def _salt() -> Floats:
    weeks = np.arange(WEEKS)
    return np.where((weeks >= SALT_WEEKS[0]) & (weeks < SALT_WEEKS[1]), SALT_FACTOR, 1.0)


def _needed(fleet: MadeFleet, door: Ints, last_day: Floats) -> Floats:
    """The year as it happens, day by day, from the true cycles: minutes by depot and week.

    The same rule as the forecast's, worked out in another way: a week's work is one visit, on
    the first day on which something is due.
    """
    tasks = len(TASKS)
    truth = fleet.cycles[door].astype(float)
    last_day = last_day - fleet.first_day
    whole = np.floor(last_day).astype(np.int64)
    rows = np.arange(len(door))[:, None]
    last_cycles = truth[rows, whole] + (last_day - whole) * (
        truth[rows, whole + 1] - truth[rows, whole]
    )
    needed = np.zeros((int(fleet.depot.max()) + 1, WEEKS))
    for week, factor in enumerate(_salt().tolist()):
        first = DAYS + int(WEEK_DAYS) * week
        day = np.full((len(door), tasks), np.inf)
        for today in range(first + int(WEEK_DAYS) - 1, first - 1, -1):
            due = _due_by(today + 1, truth[:, today + 1], last_cycles, last_day, factor)
            day[due] = today
        called = np.flatnonzero(np.isfinite(day).any(axis=1))
        for row in called.tolist():
            when = float(day[row].min())
            due = np.isfinite(day[row])
            minutes = (
                TASKS[YEARLY][2]
                if due[YEARLY]
                else sum(TASKS[task][2] for task in np.flatnonzero(due).tolist())
            )
            needed[fleet.depot[door[row]], week] += minutes + VISIT_MINUTES
            done = np.ones(tasks, bool) if due[YEARLY] else due
            done[0] = True
            last_day[row, done] = when + 0.5
            last_cycles[row, done] = truth[row, int(when) : int(when) + 2].mean()
    return needed


def _due_by(
    day: float, cycles: Floats, last_cycles: Floats, last_day: Floats, factor: float
) -> Flags:
    """Which tasks of which doors are due as the day begins, (n, t)."""
    found = np.zeros(last_day.shape, dtype=bool)
    for task, (every_cycles, every_days, _minutes) in enumerate(TASKS):
        found[:, task] = (cycles - last_cycles[:, task] >= every_cycles * factor) | (
            day - last_day[:, task] >= every_days * factor
        )
    return found
