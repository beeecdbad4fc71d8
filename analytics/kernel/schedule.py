"""The plan of a depot: the better of search and solver, how good it is, and what it leaves out."""

from __future__ import annotations

import itertools
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Codes, Flags
from analytics.kernel.schedule_greedy import Board, Start, rounds_for, search
from analytics.kernel.schedule_milp import GAP, Solved, least_cost, solve_exactly
from analytics.kernel.schedule_problem import (
    NOT_PLACED,
    VISIT_MINUTES,
    ScheduleProblem,
    done_nights,
    fits,
    minutes_of_nights,
    plan_cost,
)

SECONDS_PER_DEPOT = 3.0
ROUNDS = 400
FULL_ROUNDS = 1_500
SEED = 7
WORKERS = 2
LEAST_SECONDS = 0.1
# The rest of a depot's time is for the search.
SOLVERS_SHARE = 0.6


class Why(IntEnum):
    """Why a job is not in the plan."""

    PLACED = 0
    TRUCK_AWAY = 1
    TOO_LONG = 2
    NOBODY_TRAINED = 3
    NO_ROOM = 4
    PIN_HAS_NO_ROOM = 5
    CAN_WAIT = 6


@dataclass(frozen=True)
class Schedule:
    """A plan.

    Parameters
    ----------
    night : (n,) int64, in which each job is done; -1 not in the plan
    is_along : (n,) bool, done along with another job of that night, no work of its own
    why : (n,) int8, see `Why`
    minutes : (t,) that the plan takes in each night
    cost : of the whole plan
    bound : no plan with the same pinned and first-placed jobs costs less
    by_solver : whether the solver, with a longer search where it ran out of time, did better
    """

    night: Ints
    is_along: Flags
    why: Codes
    minutes: Floats
    cost: float
    bound: float
    by_solver: bool

    @property
    def gap(self) -> float:
        """Share of the bound by which the plan may still be dearer than the best one."""
        return max(self.cost - self.bound, 0.0) / max(self.bound, 1.0)


@dataclass(frozen=True)
class Visits:
    """Visits of a plan, by night and truck.

    Parameters
    ----------
    truck : (v,) int64
    night : (v,) int64
    minutes : (v,) work, access and final check
    late_nights : (v,) of the job that is the latest, 0 where none is
    """

    truck: Ints
    night: Ints
    minutes: Floats
    late_nights: Ints


@dataclass(frozen=True)
class _Step:
    """A plan of some of the jobs and the bound of their cost."""

    own_night: Ints
    cost: float
    bound: float
    by_solver: bool


_Solver = Callable[[ScheduleProblem, Start], Solved]


def preview(problem: ScheduleProblem, *, rounds: int = ROUNDS, seed: int = SEED) -> Schedule:
    """Plan a depot by search alone, at once.

    Parameters
    ----------
    problem : ScheduleProblem
    rounds : int, not negative
    seed : int

    Returns
    -------
    Schedule
        The same for the same input. Its bound leaves hours and visits aside, so that the gap says
        little.
    """
    return _planned(problem, _no_solver, rounds, seed)


def schedule(
    problem: ScheduleProblem,
    *,
    seconds: float = SECONDS_PER_DEPOT,
    gap: float = GAP,
    rounds: int = ROUNDS,
    seed: int = SEED,
) -> Schedule:
    """Plan a depot by search and by solver, and keep the better plan.

    Parameters
    ----------
    problem : ScheduleProblem
    seconds : float, above 0
        Most time for the solver.
    gap : float, in 0..1
        How near to the bound is near enough for the solver.
    rounds : int, not negative
    seed : int

    Returns
    -------
    Schedule
        Never dearer than `preview` where nothing goes first.

    Raises
    ------
    ValueError
        If ``seconds`` is not above 0.

    Notes
    -----
    Pinned jobs are placed before all others, then those that go first, then the rest; each step
    leaves what the steps before have placed. A pinned job without room stays out of the plan.
    """
    if not seconds > 0:
        raise ValueError(f"seconds must be above 0, got {seconds:g}")

    def solver(problem: ScheduleProblem, start: Start) -> Solved:
        solved = solve_exactly(problem, start, seconds=seconds, gap=gap)
        return _refined(problem, start, solved, seed)

    return _planned(problem, solver, rounds, seed)


def schedule_depots(
    problems: Sequence[ScheduleProblem],
    *,
    seconds: float,
    workers: int = WORKERS,
    done: Callable[[int], None] = lambda _: None,
) -> tuple[Schedule, ...]:
    """Plan depots within a time, a few at once; what one leaves over helps the next.

    Parameters
    ----------
    problems : sequence of ScheduleProblem
    seconds : float, above 0
        For all of them together; on a busy machine the last search may run over.
    workers : int, above 0
        Depots at a time: the solver leaves the interpreter free.
    done : called with the number of depots planned, after each

    Returns
    -------
    tuple of Schedule, one for each problem
    """
    started, begun, lock = time.perf_counter(), itertools.count(), threading.Lock()
    ended = itertools.count(1)

    def plan(problem: ScheduleProblem) -> Schedule:
        with lock:
            waiting = len(problems) - next(begun)
        left = seconds - (time.perf_counter() - started)
        share = SOLVERS_SHARE * left * workers / waiting
        found = schedule(problem, seconds=max(share, LEAST_SECONDS))
        with lock:
            done(next(ended))
        return found

    with ThreadPoolExecutor(workers) as pool:
        return tuple(pool.map(plan, problems))


def visits_of(problem: ScheduleProblem, plan: Schedule) -> Visits:
    """Group a plan by truck and night.

    Parameters
    ----------
    problem : ScheduleProblem
    plan : Schedule of it

    Returns
    -------
    Visits
    """
    jobs, placed = problem.jobs, np.flatnonzero(plan.night >= 0)
    trucks = len(problem.nights.home)
    keys, visit = np.unique(plan.night[placed] * trucks + jobs.truck[placed], return_inverse=True)
    own = ~plan.is_along[placed]
    minutes = np.full(len(keys), VISIT_MINUTES)
    np.add.at(minutes, visit[own], jobs.minutes[placed[own]])
    late = np.zeros(len(keys), np.int64)
    nights_late = plan.night[placed] - np.floor(jobs.due_night[placed]).astype(np.int64)
    np.maximum.at(late, visit, nights_late)
    return Visits(keys % trucks, keys // trucks, minutes, late)


def _no_solver(problem: ScheduleProblem, start: Start) -> Solved:
    return Solved(None, least_cost(problem, start))


def _planned(problem: ScheduleProblem, solver: _Solver, rounds: int, seed: int) -> Schedule:
    jobs = problem.jobs
    fixed = pinned_nights(problem)
    is_pinned = jobs.pinned_night >= 0
    first = _step(problem, Start(fixed, is_pinned | jobs.goes_first), solver, rounds, seed)
    held = np.where(jobs.goes_first | is_pinned, first.own_night, NOT_PLACED)
    among = ~is_pinned | (fixed >= 0)
    last = _step(problem, Start(held, among | jobs.goes_first), solver, rounds, seed)
    done = done_nights(problem, last.own_night)
    everything = np.ones(len(jobs), bool)
    cost = plan_cost(problem, last.own_night, everything)
    return Schedule(
        night=done,
        is_along=(done >= 0) & (last.own_night < 0),
        why=_why(problem, done),
        minutes=minutes_of_nights(problem, last.own_night),
        cost=cost,
        bound=min(cost, cost - (last.cost - last.bound) - (first.cost - first.bound)),
        by_solver=last.by_solver,
    )


def pinned_nights(problem: ScheduleProblem) -> Ints:
    """Nights of the pinned jobs for which there is room, the most pressing first.

    Parameters
    ----------
    problem : n jobs on t nights

    Returns
    -------
    (n,) int64, the night of each; `NOT_PLACED` for a job that is not pinned or finds no room
    """
    jobs = problem.jobs
    board = Board(problem, Start(np.full(len(jobs), NOT_PLACED), jobs.pinned_night >= 0))
    inner = np.bincount(problem.covers[:, 1], minlength=len(jobs))
    order = np.lexsort((jobs.due_night, -jobs.weight, inner, ~jobs.goes_first))
    for job in order[jobs.pinned_night[order] >= 0].tolist():
        night = int(jobs.pinned_night[job])
        along = any(board.own[outer] == night for outer in board.outer.get(job, ()))
        if not along and np.isfinite(board.costs(job)[night]):
            board.put(job, night)
    return board.own


def _step(problem: ScheduleProblem, start: Start, solver: _Solver, rounds: int, seed: int) -> _Step:
    """The better plan of the two, or what is fixed where there is nothing else to place."""
    free = start.among & (start.fixed_night < 0)
    if not free.any():
        cost = plan_cost(problem, start.fixed_night, start.among)
        return _Step(start.fixed_night, cost, cost, by_solver=False)
    own = search(problem, start, rounds=rounds_for(int(free.sum()), rounds), seed=seed)
    cost = plan_cost(problem, own, start.among)
    solved = solver(problem, start)
    if solved.own_night is not None and fits(problem, solved.own_night):
        other = plan_cost(problem, solved.own_night, start.among)
        if other < cost:
            return _Step(solved.own_night, other, min(solved.bound, other), by_solver=True)
    return _Step(own, cost, min(solved.bound, cost), by_solver=False)


def _refined(problem: ScheduleProblem, start: Start, solved: Solved, seed: int) -> Solved:
    """Search longer where the solver ran out of time, from its plan if it has one."""
    exact = solved.own_night
    if exact is not None and not fits(problem, exact):
        exact = None
    if exact is not None and plan_cost(problem, exact, start.among) <= solved.bound * (1 + GAP):
        return solved
    rounds = rounds_for(int(start.among.sum()), FULL_ROUNDS)
    own = search(problem, start, rounds=rounds, seed=seed, plan=exact)
    return Solved(own, solved.bound)


def _why(problem: ScheduleProblem, done: Ints) -> Codes:
    """Why each job is left out: the first rule that no night of its time satisfies."""
    in_time = problem.in_time
    in_yard = in_time & problem.truck_is_in
    long_enough = in_yard & problem.long_enough
    return np.select(
        [
            done >= 0,
            problem.jobs.pinned_night >= 0,
            problem.optional | ~in_time.any(axis=1),
            ~in_yard.any(axis=1),
            ~long_enough.any(axis=1),
            ~(long_enough & problem.trained_enough).any(axis=1),
        ],
        [Why.PLACED, Why.PIN_HAS_NO_ROOM, Why.CAN_WAIT, Why.TRUCK_AWAY, Why.TOO_LONG,
         Why.NOBODY_TRAINED],
        Why.NO_ROOM,
    ).astype(np.int8)  # fmt: skip
