"""Plans in an instant: place job by job where it costs least, then tear out and place anew."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Flags
from analytics.kernel.schedule_problem import (
    COST_VISIT,
    NOT_PLACED,
    ROUNDING,
    VISIT_MINUTES,
    ScheduleProblem,
    settled,
)

_MOST_TRUCKS = 10
# Cost by which a change for the worse is taken at first, falling to none.
_HEAT = 10.0
_NIGHTS_AROUND = 2
_NOISE_NIGHTS = 6.0
# Cost by which a night may be taken for dearer than it is, so that jobs meet in other nights.
_LEAN = 4.0
_TRIES_OF_A_LARGE_PLAN = 4_000


@dataclass(frozen=True)
class Start:
    """What a plan begins from.

    Parameters
    ----------
    fixed_night : (n,) int64, night of work that stays where it is; -1 none
    among : (n,) bool, the jobs to plan; the others are neither placed nor counted
    """

    fixed_night: Ints
    among: Flags


class Board:
    """The plan as it stands, with what is used up; changed in place by the functions below."""

    def __init__(self, problem: ScheduleProblem, start: Start) -> None:
        self.problem, self.start = problem, start
        jobs, nights = problem.jobs, problem.nights
        self.own = np.full(len(jobs), NOT_PLACED)
        self.lean = np.zeros(len(nights))
        self.left = nights.minutes.astype(float) + ROUNDING
        self.trained_left = nights.trained_minutes.astype(float) + ROUNDING
        self.home_left = nights.room + ROUNDING
        self.works = np.zeros(nights.home.shape, np.int64)
        self.asked = np.zeros(nights.home.shape, np.int64)
        self.truck = jobs.truck.tolist()
        self.minutes = jobs.minutes.tolist()
        self.needs_trained = jobs.needs_trained.tolist()
        self.optional = problem.optional.tolist()
        self.own_costs = np.where(start.among[:, None], problem.own_costs, np.inf)
        self.of_truck: dict[int, list[int]] = {}
        for job in np.flatnonzero(start.among).tolist():
            self.of_truck.setdefault(self.truck[job], []).append(job)
        self.outer: dict[int, list[int]] = {}
        self.inner: dict[int, list[int]] = {}
        for outer, inner in problem.covers.tolist():
            self.outer.setdefault(inner, []).append(outer)
            self.inner.setdefault(outer, []).append(inner)
        for job in np.flatnonzero(start.fixed_night >= 0).tolist():
            self.put(job, int(start.fixed_night[job]))

    def put(self, job: int, night: int) -> None:
        """Work on the job in the night."""
        truck = self.truck[job]
        load = self.minutes[job] + VISIT_MINUTES * (self.works[truck, night] == 0)
        self.own[job] = night
        self.left[night] -= load
        self.home_left[truck, night] -= load
        self.trained_left[night] -= self.minutes[job] * self.needs_trained[job]
        self.works[truck, night] += 1
        self.asked[truck, night] += not self.optional[job]

    def take(self, job: int) -> None:
        """Take the job's work away."""
        truck, night = self.truck[job], int(self.own[job])
        self.own[job] = NOT_PLACED
        self.works[truck, night] -= 1
        self.asked[truck, night] -= not self.optional[job]
        load = self.minutes[job] + VISIT_MINUTES * (self.works[truck, night] == 0)
        self.left[night] += load
        self.home_left[truck, night] += load
        self.trained_left[night] += self.minutes[job] * self.needs_trained[job]

    def costs(self, job: int) -> Floats:
        """What working on the job would add in each night, (t,); inf where there is no room."""
        truck = self.truck[job]
        new = self.works[truck] == 0
        cost = self.own_costs[job] + COST_VISIT * new
        load = self.minutes[job] + VISIT_MINUTES * new
        full = (load > self.left) | (load > self.home_left[truck])
        if self.needs_trained[job]:
            full |= self.minutes[job] > self.trained_left
        if self.optional[job]:
            full |= self.asked[truck] == 0
        cost[full] = np.inf
        return cost

    def covered_cost(self, job: int) -> float:
        """What the job costs as it stands, done along with another one or left out."""
        nights = [int(self.own[each]) for each in self.outer.get(job, ()) if self.own[each] >= 0]
        if nights:
            return float(self.problem.late_costs[job, min(nights)])
        return float(self.problem.left_out_costs[job])

    def insert(self, job: int) -> None:
        """Put the job where it costs least, unless it is done more cheaply without."""
        cost = self.costs(job)
        night = int(np.argmin(cost + self.lean))
        if cost[night] < self.covered_cost(job):
            self.put(job, night)
            self._drop_covered(job, night)

    def _drop_covered(self, job: int, night: int) -> None:
        """Work of the same night that the job does along is not done twice."""
        fixed = self.start.fixed_night
        for inner in self.inner.get(job, ()):
            if self.own[inner] == night and fixed[inner] < 0:
                self.take(inner)
                # The visit is still asked for: the job does there what the inner one wanted.
                self.asked[self.truck[job], night] += not self.optional[inner]

    def clear(self, truck: int) -> None:
        """Take away all work on the truck that may be moved."""
        for job in self.of_truck.get(truck, ()):
            if self.own[job] >= 0 and self.start.fixed_night[job] < 0:
                self.take(job)
        self.asked[truck] = 0
        for job in self.of_truck.get(truck, ()):
            if self.own[job] >= 0 and not self.optional[job]:
                self.asked[truck, self.own[job]] += 1

    def truck_cost(self, truck: int) -> float:
        """Cost of the truck's jobs and visits as they stand."""
        cost = COST_VISIT * float((self.works[truck] > 0).sum())
        for job in self.of_truck.get(truck, ()):
            night = self.own[job]
            cost += self.own_costs[job, night] if night >= 0 else self.covered_cost(job)
        return cost


def search(
    problem: ScheduleProblem,
    start: Start,
    *,
    rounds: int,
    seed: int,
    plan: Ints | None = None,
) -> Ints:
    """Improve a plan: clear a few trucks, place their jobs anew, keep what is no worse.

    Parameters
    ----------
    problem : ScheduleProblem
    start : Start
    rounds : int, not negative
    seed : int
        The same seed gives the same plan.
    plan : (n,) int64, night of each job's own work in the plan to begin from; None = the greedy one

    Returns
    -------
    (n,) int64
        Night of each job's own work, -1 none.
    """
    board = Board(problem, start)
    if plan is None:
        _place(board, np.flatnonzero(start.among), np.zeros(len(problem.jobs)))
    else:
        _put_back(board, list(enumerate(plan.tolist())))
    trucks = sorted(board.of_truck)
    rng = np.random.default_rng(seed)
    above, least, best = 0.0, 0.0, board.own.copy()
    for heat in np.linspace(_HEAT, 0.0, rounds if trucks else 0).tolist():
        above += _place_anew(board, _some_trucks(board, trucks, rng), rng, heat)
        if above < least - ROUNDING:
            least, best = above, board.own.copy()
    return settled(problem, best)


def rounds_for(jobs: int, rounds: int) -> int:
    """Rounds that keep a preview of many jobs as quick as one of few.

    Parameters
    ----------
    jobs : int
    rounds : int
        Rounds for a depot of usual size.

    Returns
    -------
    int
        Fewer for thousands of jobs, whose greedy plan alone takes its time.
    """
    return rounds if jobs <= _TRIES_OF_A_LARGE_PLAN else rounds // 4


def _place(board: Board, jobs: Ints, noise: Floats) -> None:
    """Insert jobs: asked for before optional, then by due night, the longer first."""
    rows, problem = board.problem.jobs, board.problem
    waiting = jobs[board.start.fixed_night[jobs] < 0]
    order = np.lexsort(
        (
            -rows.minutes[waiting],
            np.floor(rows.due_night[waiting]) - 2.0 * rows.weight[waiting] + noise[waiting],
            problem.optional[waiting],
        )
    )
    for job in waiting[order].tolist():
        board.insert(job)


def _some_trucks(board: Board, trucks: list[int], rng: np.random.Generator) -> list[int]:
    """Trucks that stand near one another in time, or any, and always one with work left out."""
    waiting = [truck for truck in trucks if _has_left_out(board, truck)]
    chosen = {int(rng.choice(waiting))} if waiting else set()
    if rng.random() < 0.5:
        night = int(rng.integers(len(board.left)))
        span = slice(max(night - _NIGHTS_AROUND, 0), night + _NIGHTS_AROUND + 1)
        near = np.flatnonzero(board.works[trucks][:, span].any(axis=1))
    else:
        near = np.arange(len(trucks))
    size = min(len(near), int(rng.integers(1, _MOST_TRUCKS + 1)))
    picked = rng.choice(near, size, replace=False) if size else near
    return sorted(chosen | {trucks[k] for k in picked.tolist()})


def _has_left_out(board: Board, truck: int) -> bool:
    return any(
        board.own[job] < 0
        and not board.optional[job]
        and not any(board.own[each] >= 0 for each in board.outer.get(job, ()))
        for job in board.of_truck[truck]
    )


def _place_anew(board: Board, trucks: list[int], rng: np.random.Generator, heat: float) -> float:
    """Clear the trucks, place their jobs in another order, return what that adds to the cost.

    What comes out dearer is put back as it was, unless it is by less than chance allows.
    """
    before = {truck: [(j, int(board.own[j])) for j in board.of_truck[truck]] for truck in trucks}
    cost_before = sum(board.truck_cost(truck) for truck in trucks)
    for truck in trucks:
        board.clear(truck)
    jobs = np.array([j for each in trucks for j in board.of_truck[each]], np.int64)
    board.lean = rng.exponential(_LEAN * rng.random(), len(board.left))
    _place(board, jobs, rng.normal(0.0, _NOISE_NIGHTS, len(board.own)))
    added = sum(board.truck_cost(truck) for truck in trucks) - cost_before
    if added <= heat * rng.exponential() + ROUNDING:
        return added
    for truck in trucks:
        board.clear(truck)
    for truck in trucks:
        _put_back(board, before[truck])
    return 0.0


def _put_back(board: Board, placed: list[tuple[int, int]]) -> None:
    for job, night in placed:
        if night >= 0 and board.own[job] < 0:
            board.put(job, night)
