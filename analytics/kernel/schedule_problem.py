"""Which jobs are to be done at one depot, on which nights, and what a plan of them costs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Flags

NOT_PLACED = -1
# Getting at the door and getting the truck back, and the final check (common practice, no source).
ACCESS_MINUTES = 15.0
FINAL_CHECK_MINUTES = 7.0
VISIT_MINUTES = ACCESS_MINUTES + FINAL_CHECK_MINUTES
MOST_NIGHTS_EARLY = 14.0
FREE_NIGHTS_EARLY = 3.0
COST_LATE_NIGHT = 4.0
COST_EARLY_NIGHT = 1.0
# The free nights cost so little that they only decide between nights that are as good.
COST_FREE_NIGHT = 0.05
COST_VISIT = 6.0
# People have been told a night: it is kept unless another one is better by more than this.
COST_MOVED = 1.0
COST_LEFT_OUT = 150.0
# So little that it only decides against doing work twice.
COST_MINUTE = 0.01
ROUNDING = 1e-6


@dataclass(frozen=True)
class Jobs:
    """Jobs of one depot, one row each.

    Parameters
    ----------
    truck : (n,) int64, row of ``Nights.home``
    minutes : (n,) of work at the door, not negative, the visit's own minutes left out
    due_night : (n,) nights from the first one of the plan; negative late already
    earliest_night : (n,) int64, the night before which half of the interval is not used up
    weight : (n,) above 0, how much worse this job's late night is than an ordinary one's
    goes_first : (n,) bool, safety and stopped trucks: placed before all others
    needs_trained : (n,) bool, spring work
    pinned_night : (n,) int64, the night on which the planner put it; -1 free
    """

    truck: Ints
    minutes: Floats
    due_night: Floats
    earliest_night: Ints
    weight: Floats
    goes_first: Flags
    needs_trained: Flags
    pinned_night: Ints

    def __len__(self) -> int:
        return len(self.truck)


@dataclass(frozen=True)
class Nights:
    """What there is to work with.

    Parameters
    ----------
    minutes : (t,) of the bay in each night, not negative
    trained_minutes : (t,) of people trained for spring work, not negative
    home : (k, t) bool, whether each truck is in
    home_minutes : (k, t) that each truck is in for, not negative; None = as long as it takes
    """

    minutes: Floats
    trained_minutes: Floats
    home: Flags
    home_minutes: Floats | None = None

    def __len__(self) -> int:
        return len(self.minutes)

    @cached_property
    def room(self) -> Floats:
        """Minutes that a visit may take of each truck in each night, (k, t); inf = any."""
        if self.home_minutes is None:
            return np.where(self.home, np.inf, 0.0)
        return np.where(self.home, self.home_minutes, 0.0)


@dataclass(frozen=True)
class ScheduleProblem:
    """Jobs, nights, and which job does which other one along with it.

    Parameters
    ----------
    jobs : Jobs, n
    nights : Nights, t nights and k trucks
    covers : (p, 2) int64, a job and one on the same truck that is done with it; with a job go all
        those that the covered ones cover
    planned_night : (n,) int64, the night that people were told; -1 none; None = nobody was told

    Raises
    ------
    ValueError
        If a column has another length, a number lies out of its range, or a pair is not of one
        truck, circular, or without the pairs that follow from it.
    """

    jobs: Jobs
    nights: Nights
    covers: Ints
    planned_night: Ints | None = None

    def __post_init__(self) -> None:
        _check_lengths(self)
        _check_ranges(self)
        _check_covers(self)

    @cached_property
    def optional(self) -> Flags:
        """Jobs due after the last night, done only when the truck is in anyway, (n,) bool."""
        jobs = self.jobs
        later = np.floor(jobs.due_night) > len(self.nights) - 1
        return later & (jobs.pinned_night < 0) & ~jobs.goes_first

    @cached_property
    def late_costs(self) -> Floats:
        """Cost of having each job done by each night, (n, t); what is late already is sunk."""
        jobs = self.jobs
        due = np.maximum(np.floor(jobs.due_night), 0.0)[:, None]
        late = np.maximum(np.arange(len(self.nights)) - due, 0.0)
        return COST_LATE_NIGHT * jobs.weight[:, None] * late

    @cached_property
    def own_costs(self) -> Floats:
        """Cost of working on each job in each night, (n, t); inf where it may not be."""
        jobs = self.jobs
        early = np.floor(jobs.due_night)[:, None] - np.arange(len(self.nights))
        free = np.clip(early, 0.0, FREE_NIGHTS_EARLY)
        beyond = np.maximum(early - FREE_NIGHTS_EARLY, 0.0)
        cost = self.late_costs + COST_FREE_NIGHT * free + COST_EARLY_NIGHT * beyond
        if self.planned_night is not None:
            told = self.planned_night[:, None]
            cost = cost + COST_MOVED * ((told >= 0) & (told != np.arange(len(self.nights))))
        return np.where(self.may_work, cost + COST_MINUTE * jobs.minutes[:, None], np.inf)

    @cached_property
    def may_work(self) -> Flags:
        """Where a job may stand, hours taken by others aside, (n, t) bool."""
        return self.in_time & self.truck_is_in & self.long_enough & self.trained_enough

    @cached_property
    def in_time(self) -> Flags:
        """Not before the earliest night nor too early; of a pinned job its own night, (n, t)."""
        jobs, night = self.jobs, np.arange(len(self.nights))
        due = np.floor(jobs.due_night)[:, None]
        free = (night >= jobs.earliest_night[:, None]) & (night >= due - MOST_NIGHTS_EARLY)
        pinned = jobs.pinned_night[:, None]
        return np.where(pinned < 0, free, night == pinned)

    @property
    def truck_is_in(self) -> Flags:
        """Nights when the job's truck is home, (n, t) bool."""
        return self.nights.home[self.jobs.truck]

    @property
    def long_enough(self) -> Flags:
        """Nights whose hours, and the truck's at home, would hold the job alone, (n, t) bool."""
        load = self.jobs.minutes[:, None] + VISIT_MINUTES
        at_home = load <= self.nights.room[self.jobs.truck] + ROUNDING
        return (load <= self.nights.minutes + ROUNDING) & (at_home | ~self.truck_is_in)

    @property
    def trained_enough(self) -> Flags:
        """Nights with trained people enough for the job alone, (n, t) bool."""
        jobs, trained = self.jobs, self.nights.trained_minutes
        enough = (jobs.minutes[:, None] <= trained + ROUNDING) & (trained > 0)
        return enough | ~jobs.needs_trained[:, None]

    @cached_property
    def left_out_costs(self) -> Floats:
        """Cost of not doing each job, (n,); of an optional one the visit that it may save."""
        return np.where(self.optional, COST_VISIT, COST_LEFT_OUT * self.jobs.weight)

    @cached_property
    def trained_minutes_needed(self) -> Floats:
        """Trained minutes each job takes, (n,)."""
        return np.where(self.jobs.needs_trained, self.jobs.minutes, 0.0)


def covered_from(problem: ScheduleProblem, own_night: Ints) -> Ints:
    """First night in which each job is done along with another one.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    (n,) int64, the number of nights where it never is
    """
    never = len(problem.nights)
    first = np.full(len(own_night), never)
    outer, inner = problem.covers.T
    night = np.where(own_night[outer] >= 0, own_night[outer], never)
    np.minimum.at(first, inner, night)
    return first


def done_nights(problem: ScheduleProblem, own_night: Ints) -> Ints:
    """Night in which each job is done, by its own work or along with another one.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    (n,) int64, -1 where it is not done
    """
    covered = covered_from(problem, own_night)
    by_other = np.where(covered < len(problem.nights), covered, NOT_PLACED)
    return np.where(own_night >= 0, own_night, by_other)


def plan_cost(problem: ScheduleProblem, own_night: Ints, among: Flags) -> float:
    """Cost of a plan.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none
    among : (n,) bool, the jobs that count

    Returns
    -------
    float
        4 × weight per late night, 0.05 per night early and 1 beyond three, 6 per visit,
        1 per job moved from the night that was told, 150 × weight per job left out, and a
        hundredth per minute of work.
    """
    done, own = done_nights(problem, own_night), own_night >= 0
    row = np.arange(len(own_night))
    cost = np.where(own, problem.own_costs[row, own_night], problem.late_costs[row, done])
    cost = np.where(done >= 0, cost, problem.left_out_costs)
    visits = np.unique(np.stack((problem.jobs.truck[own], own_night[own])), axis=1).shape[1]
    return float(cost[among].sum() + COST_VISIT * visits)


def minutes_of_nights(problem: ScheduleProblem, own_night: Ints) -> Floats:
    """Minutes that a plan takes in each night, its visits' own among them.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    (t,) minutes
    """
    jobs, own = problem.jobs, np.flatnonzero(own_night >= 0)
    night, count = own_night[own], len(problem.nights)
    work = np.bincount(night, jobs.minutes[own], count)
    visits = np.unique(np.stack((jobs.truck[own], night)), axis=1)[1]
    return work + VISIT_MINUTES * np.bincount(visits, minlength=count)


def minutes_of_visits(problem: ScheduleProblem, own_night: Ints) -> Floats:
    """Minutes that a plan takes of each truck in each night, the visit's own among them.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    (k, t) minutes
    """
    jobs, own = problem.jobs, np.flatnonzero(own_night >= 0)
    minutes = np.zeros(problem.nights.home.shape)
    visited = np.zeros(minutes.shape, bool)
    np.add.at(minutes, (jobs.truck[own], own_night[own]), jobs.minutes[own])
    visited[jobs.truck[own], own_night[own]] = True
    return minutes + VISIT_MINUTES * visited


def fits(problem: ScheduleProblem, own_night: Ints) -> bool:
    """Tell whether a plan keeps within the hours of the bay, of trained people, and of trucks.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    bool
    """
    nights, own = problem.nights, np.flatnonzero(own_night >= 0)
    used = minutes_of_nights(problem, own_night)
    trained = np.bincount(own_night[own], problem.trained_minutes_needed[own], len(nights))
    within = (used <= nights.minutes + ROUNDING) & (trained <= nights.trained_minutes + ROUNDING)
    at_home = minutes_of_visits(problem, own_night) <= nights.room + ROUNDING
    return bool(within.all() and at_home.all() and problem.may_work[own, own_night[own]].all())


def settled(problem: ScheduleProblem, own_night: Ints) -> Ints:
    """Take away work that another job does by then, and optional work without a visit to join.

    Parameters
    ----------
    problem : ScheduleProblem
    own_night : (n,) int64, night of the work itself; -1 none

    Returns
    -------
    (n,) int64, as ``own_night``
    """
    jobs, own = problem.jobs, own_night.copy()
    twice = (own >= 0) & (covered_from(problem, own) <= own) & (jobs.pinned_night < 0)
    own[twice] = NOT_PLACED
    while True:
        done = done_nights(problem, own)
        wanted = np.zeros(problem.nights.home.shape, bool)
        asks = ~problem.optional & (done >= 0)
        wanted[jobs.truck[asks], done[asks]] = True
        stray = problem.optional & (own >= 0) & ~wanted[jobs.truck, own]
        if not stray.any():
            return own
        own[stray] = NOT_PLACED


def _check_lengths(problem: ScheduleProblem) -> None:
    jobs, nights = problem.jobs, problem.nights
    for name, values in vars(jobs).items():
        if values.shape != (len(jobs),):
            raise ValueError(f"{name} must have shape ({len(jobs)},), got {values.shape}")
    if len(nights) == 0:
        raise ValueError("a plan needs at least one night, got 0")
    if nights.trained_minutes.shape != nights.minutes.shape:
        raise ValueError(
            f"trained_minutes must have shape {nights.minutes.shape}, "
            f"got {nights.trained_minutes.shape}"
        )
    if nights.home_minutes is not None and nights.home_minutes.shape != nights.home.shape:
        raise ValueError(
            f"home_minutes must have shape {nights.home.shape}, got {nights.home_minutes.shape}"
        )
    if problem.planned_night is not None and problem.planned_night.shape != (len(jobs),):
        raise ValueError(
            f"planned_night must have shape ({len(jobs)},), got {problem.planned_night.shape}"
        )
    if nights.home.ndim != 2 or nights.home.shape[1] != len(nights):
        raise ValueError(f"home must have {len(nights)} columns, got shape {nights.home.shape}")


def _check_ranges(problem: ScheduleProblem) -> None:
    jobs, nights = problem.jobs, problem.nights
    for name, values in (
        ("minutes of a job", jobs.minutes),
        ("minutes of a night", nights.minutes),
        ("trained minutes of a night", nights.trained_minutes),
        ("minutes at home", np.zeros(1) if nights.home_minutes is None else nights.home_minutes),
    ):
        if not (np.isfinite(values) & (values >= 0)).all():
            raise ValueError(f"{name} must not be negative, got {values.min():g}")
    if not np.isfinite(jobs.due_night).all():
        raise ValueError("due_night must be known, got nan or inf")
    if not (jobs.weight > 0).all():
        raise ValueError(f"weight must be above 0, got {jobs.weight.min():g}")
    if not ((jobs.truck >= 0) & (jobs.truck < len(nights.home))).all():
        raise ValueError(f"truck must be a row of home (0 to {len(nights.home) - 1})")
    if not (jobs.pinned_night < len(nights)).all():
        raise ValueError(f"pinned_night must be below {len(nights)}, got {jobs.pinned_night.max()}")


def _check_covers(problem: ScheduleProblem) -> None:
    pairs, jobs = problem.covers, problem.jobs
    if pairs.ndim != 2 or pairs.shape[1] != 2:
        raise ValueError(f"covers must have shape (p, 2), got {pairs.shape}")
    if len(pairs) and not ((pairs >= 0) & (pairs < len(jobs))).all():
        raise ValueError(f"covers must name jobs 0 to {len(jobs) - 1}")
    if (jobs.truck[pairs[:, 0]] != jobs.truck[pairs[:, 1]]).any():
        raise ValueError("a job covers only jobs on its own truck")
    inner: dict[int, set[int]] = {}
    for outer, covered in pairs.tolist():
        inner.setdefault(outer, set()).add(covered)
    for outer, reached in inner.items():
        further = set().union(*(inner.get(each, set()) for each in reached))
        if outer in reached or not further <= reached:
            raise ValueError(
                f"covers must hold what follows from it and no circle, see job {outer}"
            )
