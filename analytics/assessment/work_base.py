"""Where each task stands on doors in service, and how their use may go on: the base of a year."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.parameters import FleetParameters, kept_parameters
from analytics.assessment.severity import HIGH_DUTY_CYCLES_PER_DAY, ROUGH_USE_KNOCKS
from analytics.datasets.catalogue import Tasks, fetch_tasks
from analytics.datasets.columns import DAY_SECONDS, Flags, Floats, Ints, Table
from analytics.datasets.doors import DoorRows, fetch_doors
from analytics.datasets.work_ahead import (
    TaskWork,
    choose_doors,
    fetch_figures,
    fetch_knocks,
    fetch_standing,
    fetch_task_work,
)
from analytics.kernel.effective_days import Calendar
from analytics.kernel.rate_filter import Rate
from analytics.kernel.usage_paths import (
    SEASON_LEFT_SD,
    SEASON_SD,
    WEEK_DAYS,
    draw_cycles,
)
from analytics.models import Computation

WEEKS = 52
DRAWS = 24
SEED = 1
# A page answers in about a second with so many doors; of a larger fleet these are evenly chosen.
MOST_DOORS = 800


@dataclass(frozen=True)
class WorkBase:
    """Doors looked at (n), where their tasks stand, and how their use may go on.

    `last_cycles`, `last_day`, `asked_for` are (n, t); `by_depot`: doors in service by depot id,
    looked at or not; `laid_up`: chosen doors left out, their truck being out of use now.
    """

    doors: DoorRows
    rows: Ints
    tasks: Tasks
    work: TaskWork
    last_cycles: Floats
    last_day: Floats
    asked_for: Flags
    in_force: Flags
    paths: Floats
    by_depot: dict[int, int]
    laid_up: int

    @property
    def first_day(self) -> float:
        """Epoch day on which the first week begins."""
        return float(np.floor(self.doors.day.min())) if len(self.doors) else 0.0

    @property
    def doors_in_sight(self) -> int:
        """Doors in service, whether looked at or not."""
        return sum(self.by_depot.values())

    @property
    def looked_at(self) -> int:
        """Doors that the forecast follows."""
        return len(self.rows)

    @property
    def is_sampled(self) -> bool:
        """Whether doors were left out to answer in time."""
        return self.doors_in_sight > len(self.doors)


def fetch_work_base(run: Computation, depot_ids: tuple[int, ...] | None) -> WorkBase | None:
    """Where the tasks stand by the run's rows; a constant number of queries at any size.

    None where the run kept nothing of how doors are used that this version understands.
    """
    parameters = kept_parameters(run.parameters)
    if parameters is None:
        return None
    chosen = choose_doors(run, depot_ids, MOST_DOORS)
    ids = chosen.ids.tolist()
    doors = fetch_doors(run.as_of_on or run.as_of, ids)
    tasks, work = fetch_tasks(), fetch_task_work()
    figures = _by_door(doors, fetch_figures(run, ids))
    last_cycles, last_day, asked = _standing(doors, tasks, fetch_standing(run, ids)).values()
    knocks = fetch_knocks(run, ids)
    laid_up = _laid_up(doors)
    rows = np.flatnonzero(~laid_up & ~np.isnan(figures["log_rate"]))
    return WorkBase(
        doors=doors,
        rows=rows,
        tasks=tasks,
        work=work,
        last_cycles=last_cycles[rows],
        last_day=last_day[rows],
        asked_for=asked[rows] > 0,
        in_force=_duties(doors, figures, knocks)[rows],
        paths=_paths(doors, figures, parameters, rows),
        by_depot=chosen.by_depot,
        laid_up=int(laid_up.sum()),
    )


def _by_door(doors: DoorRows, table: Table) -> dict[str, Floats]:
    """Columns in the order of the doors; nan where a door has no row."""
    at = doors.index_of(table["door"])
    found = {}
    for name in table.dtype.names or ():
        column = np.full(len(doors), np.nan)
        column[at[at >= 0]] = table[name][at >= 0]
        found[name] = column
    return found


def _standing(doors: DoorRows, tasks: Tasks, table: Table) -> dict[str, Floats]:
    """By door and task: cycles and day of the last doing, and whether a finding asks for it.

    A task without a row is one that nobody planned so far: it counts from the record's start.
    """
    place = {each: k for k, each in enumerate(tasks.ids.tolist())}
    task = np.array([place.get(each, -1) for each in table["task"].tolist()], dtype=np.int64)
    door = doors.index_of(table["door"])
    known = (task >= 0) & (door >= 0)
    shape = (len(doors), len(tasks))
    found = {
        "cycles": np.repeat(doors.opening_cycles[:, None], len(tasks), axis=1),
        "day": np.repeat(doors.record_from_day[:, None], len(tasks), axis=1),
        "asked": np.zeros(shape),
    }
    for name, column in found.items():
        column[door[known], task[known]] = table[name][known]
    return found


def _laid_up(doors: DoorRows) -> Flags:
    laid = doors.lay_ups
    now = doors.day[laid.door]
    out = (laid.from_day <= now) & ~(laid.until_day <= now)
    found = np.zeros(len(doors), dtype=bool)
    found[laid.door[out]] = True
    return found


def _duties(doors: DoorRows, figures: dict[str, Floats], knocks: dict[int, int]) -> Flags:
    """Which of the conditions that the door's own record tells hold, (n, 2)."""
    hits = np.array([knocks.get(each, 0) for each in doors.ids.tolist()])
    per_day = np.nan_to_num(figures["per_day"])
    return np.stack((per_day > HIGH_DUTY_CYCLES_PER_DAY, hits >= ROUGH_USE_KNOCKS), axis=1)


def _paths(
    doors: DoorRows, figures: dict[str, Floats], parameters: FleetParameters, rows: Ints
) -> Floats:
    """Cycles of the doors at each week's beginning, drawn, (draws, n, weeks + 1)."""
    now = np.where(np.isnan(figures["cycles"]), figures["end_cycles"], figures["cycles"])[rows]
    log_rate = figures["log_rate"][rows]
    since = (doors.moment - figures["read"])[rows] / DAY_SECONDS
    since = np.maximum(np.nan_to_num(since), 0.0)
    since = np.minimum(since, now / np.exp(log_rate))
    prior = parameters.priors(doors).rate
    return draw_cycles(
        now - np.exp(log_rate) * since,
        since,
        Rate(log_rate, figures["variance"][rows]),
        Rate(prior.log_rate[rows], prior.variance[rows]),
        parameters.settings,
        week_days=_week_days(parameters.calendar(doors), doors, rows),
        season_sd=_season_sd(parameters, doors)[rows],
        draws=DRAWS,
        rng=np.random.default_rng(SEED),
    )


def _week_days(calendar: Calendar, doors: DoorRows, rows: Ints) -> Floats:
    """Effective days of each week ahead, (n, weeks)."""
    begins = np.floor(doors.day[rows])[:, None] + WEEK_DAYS * np.arange(WEEKS + 1)
    days = calendar.without_lay_ups(np.repeat(rows, WEEKS + 1), begins.ravel())
    return np.diff(days.reshape(len(rows), WEEKS + 1), axis=1)


def _season_sd(parameters: FleetParameters, doors: DoorRows) -> Floats:
    """How little is known of each door's seasons, (n,)."""
    kinds = (*doors.route_kinds, "")
    sd = [SEASON_LEFT_SD if kind in parameters.month_factors else SEASON_SD for kind in kinds]
    return np.array(sd)[doors.route]
