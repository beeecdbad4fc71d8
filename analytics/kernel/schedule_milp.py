"""The plan as a mixed-integer linear programme, which also proves how good any plan can be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array

from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.quiet_stdout import quiet_stdout
from analytics.kernel.schedule_greedy import Start
from analytics.kernel.schedule_problem import (
    COST_VISIT,
    NOT_PLACED,
    ROUNDING,
    VISIT_MINUTES,
    ScheduleProblem,
    settled,
)

GAP = 0.01
# Beyond so many choices the solver finds nothing of use in seconds; the search is kept then.
MOST_CHOICES = 60_000


@dataclass(frozen=True)
class Solved:
    """What the solver found.

    Parameters
    ----------
    own_night : (n,) int64, night of each job's own work, -1 none; or None where it found no plan
    bound : no plan of these jobs costs less
    """

    own_night: Ints | None
    bound: float


@dataclass(frozen=True)
class _Choices:
    """Columns of the programme: work of a job in a night, a job done along, a visit.

    Work on ``work_job[k]`` in ``work_night[k]`` is column k; then come jobs done along with another
    one; then visits, of ``visit_truck`` in ``visit_night``. The last column is always 1 and carries
    what leaving every job out costs: the solver's gap is a share of all that is minimised.
    """

    work_job: Ints
    work_night: Ints
    along_job: Ints
    along_night: Ints
    visit_truck: Ints
    visit_night: Ints
    work_column: Ints
    visit_column: Ints

    @property
    def size(self) -> int:
        """Number of columns."""
        return self.first_visit + len(self.visit_truck) + 1

    @property
    def first_along(self) -> int:
        """Column of the first job done along."""
        return len(self.work_job)

    @property
    def first_visit(self) -> int:
        """Column of the first visit."""
        return len(self.work_job) + len(self.along_job)

    def job_of(self, columns: Ints) -> Ints:
        """Job of columns of work and of jobs done along."""
        return np.concatenate((self.work_job, self.along_job))[columns]

    def night_of(self, columns: Ints) -> Ints:
        """Night of columns of work and of jobs done along."""
        return np.concatenate((self.work_night, self.along_night))[columns]


class _Rows:
    """Rows of a sparse matrix, gathered block by block."""

    def __init__(self, columns: int) -> None:
        self.columns, self.height = columns, 0
        self.row: list[Ints] = []
        self.column: list[Ints] = []
        self.value: list[Floats] = []
        self.most: list[Floats] = []

    def add(self, entries: list[tuple[Ints, Ints, Floats | float]], most: Floats) -> None:
        """Append a block: entries at row of the block and column, each row at most so much."""
        for row, column, value in entries:
            self.row.append(row + self.height)
            self.column.append(column)
            self.value.append(np.broadcast_to(np.asarray(value, float), row.shape))
        self.most.append(most)
        self.height += len(most)

    def constraint(self) -> LinearConstraint:
        """All rows at once."""
        entries = np.concatenate(self.value)
        places = (np.concatenate(self.row), np.concatenate(self.column))
        matrix = csr_array((entries, places), shape=(self.height, self.columns))
        return LinearConstraint(matrix, -np.inf, np.concatenate(self.most))


def least_cost(problem: ScheduleProblem, start: Start) -> float:
    """Sum of what each job costs at least by itself, hours, other jobs and visits left aside.

    Parameters
    ----------
    problem : ScheduleProblem
    start : Start

    Returns
    -------
    float
        A bound that holds without any search, far below the true least cost.
    """
    own = problem.own_costs.min(axis=1, initial=np.inf)
    inner = np.zeros(len(own), bool)
    inner[problem.covers[:, 1]] = True
    along = np.where(inner, problem.late_costs.min(axis=1), np.inf)
    least = np.minimum(np.minimum(own, along), problem.left_out_costs)
    return float(least[start.among].sum())


def solve_exactly(
    problem: ScheduleProblem, start: Start, *, seconds: float, gap: float = GAP
) -> Solved:
    """Find a plan of nearly least cost, and a bound that holds for every plan.

    Parameters
    ----------
    problem : ScheduleProblem
    start : Start
    seconds : float, above 0
        When to stop; the best plan so far is then taken.
    gap : float, share of the cost in 0..1
        How near to the bound is near enough.

    Returns
    -------
    Solved

    Notes
    -----
    With x work of a job in a night, c a job done along with another one and v a visit: each job at
    most once; minutes of work and visits within each night's hours; spring work within the trained
    people's minutes; no work without a visit, nothing along without the other's work, and nothing
    optional in a night without a job that is asked for. HiGHS, stopped by the clock, may give
    another plan in another run: keep the plan, do not compute it again.
    """
    floor = least_cost(problem, start)
    choices = _choices_of(problem, start)
    if len(choices.work_job) == 0 or len(choices.work_job) > MOST_CHOICES:
        return Solved(None, floor)
    lowest = np.zeros(choices.size)
    lowest[-1] = 1.0
    fixed = start.fixed_night[choices.work_job] == choices.work_night
    lowest[: choices.first_along][fixed] = 1.0
    whole = np.ones(choices.size)
    whole[choices.first_along : choices.first_visit] = 0
    costs, rules = _costs(problem, start, choices), _constraints(problem, choices)
    with quiet_stdout():
        floor = max(floor, _relaxed_cost(costs, rules, lowest))
        found = milp(
            costs,
            integrality=whole,
            bounds=Bounds(lowest, 1.0),
            constraints=rules,
            options={"time_limit": seconds, "mip_rel_gap": gap, "disp": False},
        )
    proven = found.mip_dual_bound
    bound = floor if proven is None or not np.isfinite(proven) else max(floor, proven)
    own = None if found.x is None else _own_nights(problem, choices, found.x)
    return Solved(own, bound)


def _relaxed_cost(costs: Floats, rules: LinearConstraint, lowest: Floats) -> float:
    """Least cost if jobs could be split: a bound at once, also where the solver runs out of time.

    Taken off a little, for what the linear solver rounds.
    """
    limits = np.stack((lowest, np.ones(len(lowest))), axis=1)
    found = linprog(costs, A_ub=rules.A, b_ub=rules.ub, bounds=limits, method="highs")
    return float(found.fun) - ROUNDING * abs(found.fun) if found.status == 0 else -np.inf


def _choices_of(problem: ScheduleProblem, start: Start) -> _Choices:
    may = problem.may_work & start.among[:, None]
    fixed = np.flatnonzero(start.fixed_night >= 0)
    may[fixed] = False
    may[fixed, start.fixed_night[fixed]] = True
    work_job, work_night = np.nonzero(may)
    outer, inner = problem.covers.T
    along = np.zeros_like(may)
    np.logical_or.at(along, inner, may[outer])
    along_job, along_night = np.nonzero(along & start.among[:, None])
    visited = np.zeros(problem.nights.home.shape, bool)
    visited[problem.jobs.truck[work_job], work_night] = True
    visit_truck, visit_night = np.nonzero(visited)
    work_column, visit_column = np.full(may.shape, -1), np.full(visited.shape, -1)
    work_column[work_job, work_night] = np.arange(len(work_job))
    first_visit = len(work_job) + len(along_job)
    visit_column[visit_truck, visit_night] = first_visit + np.arange(len(visit_truck))
    return _Choices(
        work_job, work_night, along_job, along_night, visit_truck, visit_night,
        work_column, visit_column,
    )  # fmt: skip


def _costs(problem: ScheduleProblem, start: Start, choices: _Choices) -> Floats:
    """Cost of each column; of a job that is done, what leaving it out costs is taken off."""
    left_out = problem.left_out_costs
    return np.concatenate(
        (
            problem.own_costs[choices.work_job, choices.work_night] - left_out[choices.work_job],
            problem.late_costs[choices.along_job, choices.along_night]
            - left_out[choices.along_job],
            np.full(len(choices.visit_truck), COST_VISIT),
            left_out[start.among].sum(keepdims=True),
        )
    )


def _constraints(problem: ScheduleProblem, choices: _Choices) -> LinearConstraint:
    rows = _Rows(choices.size)
    _add_each_once(rows, problem, choices)
    _add_hours(rows, problem, choices)
    _add_visits(rows, problem, choices)
    _add_home(rows, problem, choices)
    _add_along(rows, problem, choices)
    _add_optional(rows, problem, choices)
    return rows.constraint()


def _along_columns(choices: _Choices) -> Ints:
    return choices.first_along + np.arange(len(choices.along_job))


def _add_each_once(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    work = (choices.work_job, np.arange(len(choices.work_job)), 1.0)
    along = (choices.along_job, _along_columns(choices), 1.0)
    rows.add([work, along], np.ones(len(problem.jobs)))


def _add_hours(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    nights, columns = problem.nights, np.arange(len(choices.work_job))
    visits = choices.first_visit + np.arange(len(choices.visit_truck))
    work = (choices.work_night, columns, problem.jobs.minutes[choices.work_job])
    rows.add([work, (choices.visit_night, visits, VISIT_MINUTES)], nights.minutes)
    trained = problem.trained_minutes_needed[choices.work_job]
    rows.add([(choices.work_night, columns, trained)], nights.trained_minutes)


def _add_visits(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    each = np.arange(len(choices.work_job))
    visit = choices.visit_column[problem.jobs.truck[choices.work_job], choices.work_night]
    rows.add([(each, each, 1.0), (each, visit, -1.0)], np.zeros(len(each)))


def _add_home(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    """A visit takes no longer than its truck is home."""
    room = problem.nights.room[choices.visit_truck, choices.visit_night]
    short = np.flatnonzero(np.isfinite(room))
    row = np.full(choices.visit_column.shape, -1)
    row[choices.visit_truck[short], choices.visit_night[short]] = np.arange(len(short))
    of_work = row[problem.jobs.truck[choices.work_job], choices.work_night]
    work = np.flatnonzero(of_work >= 0)
    minutes = problem.jobs.minutes[choices.work_job[work]]
    visits = (np.arange(len(short)), choices.first_visit + short, VISIT_MINUTES - room[short])
    rows.add([(of_work[work], work, minutes), visits], np.zeros(len(short)))


def _add_along(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    """A job done along with another one needs the other's work in that night."""
    each = np.arange(len(choices.along_job))
    place = np.full(problem.own_costs.shape, -1)
    place[choices.along_job, choices.along_night] = each
    outer, inner = problem.covers.T
    row, work = place[inner], choices.work_column[outer]
    both = (row >= 0) & (work >= 0)
    rows.add(
        [(each, _along_columns(choices), 1.0), (row[both], work[both], -1.0)],
        np.zeros(len(each)),
    )


def _add_optional(rows: _Rows, problem: ScheduleProblem, choices: _Choices) -> None:
    """Optional work needs a job that is asked for, done on the truck in the same night."""
    joins = np.flatnonzero(problem.optional[choices.work_job])
    place = problem.jobs.truck * len(problem.nights)
    wanted = place[choices.work_job[joins]] + choices.work_night[joins]
    columns = _asked_columns(problem, choices)
    job, night = choices.job_of(columns), choices.night_of(columns)
    order = np.argsort(place[job] + night, kind="stable")
    spot = (place[job] + night)[order]
    first, last = (np.searchsorted(spot, wanted, side=side) for side in ("left", "right"))
    count = last - first
    row = np.repeat(np.arange(len(joins)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    asked = columns[order][np.repeat(first, count) + within]
    rows.add([(np.arange(len(joins)), joins, 1.0), (row, asked, -1.0)], np.zeros(len(joins)))


def _asked_columns(problem: ScheduleProblem, choices: _Choices) -> Ints:
    """Columns of all that is asked for, by own work or done along in its time."""
    work = np.flatnonzero(~problem.optional[choices.work_job])
    in_time = problem.may_work[choices.along_job, choices.along_night]
    along = np.flatnonzero(~problem.optional[choices.along_job] & in_time)
    return np.concatenate((work, choices.first_along + along))


def _own_nights(problem: ScheduleProblem, choices: _Choices, x: Floats) -> Ints:
    own = np.full(len(problem.jobs), NOT_PLACED)
    chosen = np.flatnonzero(x[: choices.first_along] > 0.5)
    own[choices.work_job[chosen]] = choices.work_night[chosen]
    return settled(problem, own)
