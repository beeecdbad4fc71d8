"""When a preventive task falls due: by cycles, by days or on condition, whichever comes first."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import partial

import numpy as np

from analytics.kernel.calibration import UNCALIBRATED, Calibration
from analytics.kernel.effective_days import Calendar, Floats, Ints, Moment
from analytics.kernel.exposure import Codes, Flags
from analytics.kernel.rate_filter import Rate
from analytics.kernel.usage import Usage

WINDOW = 0.1  # of the interval, before and after due; common practice, no source
HORIZON_DAYS = 420.0
_ROUNDING = 1e-9
_ITERATIONS = 12
_LEAST_SLOPE = 0.25
_NUDGE = 1e-4


class GovernedBy(IntEnum):
    """What makes a task due first."""

    CYCLES = 0
    DAYS = 1
    CONDITION = 2
    NONE = 3


class DueState(IntEnum):
    """How a task stands."""

    LATER = 0
    SOON = 1
    DUE = 2
    LATE = 3
    CONDITION = 4
    UNKNOWN = 5


class TimeKept(IntEnum):
    """Whether a task was done inside its window."""

    EARLY = 0
    ON_TIME = 1
    LATE = 2


@dataclass(frozen=True)
class Tasks:
    """Tasks of doors, one row for each pair.

    Parameters
    ----------
    door : (p,) int64, row of the usage
    last_done_cycles : (p,) lifetime cycles; nan unknown
    last_done_day : (p,) epoch day; nan unknown
    interval_cycles : (p,) above 0, severity factors applied; nan none
    interval_days : (p,) above 0, severity factors applied; nan none
    condition_day : (p,) epoch day of a finding that asks for the task; nan none
    window_before, window_after : shares of the interval, one or (p,), within which doing the task
        counts as on time, before and after due
    """

    door: Ints
    last_done_cycles: Floats
    last_done_day: Floats
    interval_cycles: Floats
    interval_days: Floats
    condition_day: Floats
    window_before: Floats | float = WINDOW
    window_after: Floats | float = WINDOW


@dataclass(frozen=True)
class Due:
    """When tasks fall due.

    Parameters
    ----------
    due_cycles : (p,) lifetime cycles; nan without an interval in cycles
    due_day : (p,) epoch day, the earliest of the next two and the finding; nan unknown
    due_day_by_cycles : (p,) when these cycles are expected to be reached
    due_day_by_calendar : (p,)
    due_day_early, due_day_late : (p,) the cycles are reached between these with 80 % probability,
        10 % on either side; not cut off by the calendar limit; never beyond 420 days from now
    beyond_horizon : (p,) bool, the late day lies beyond these 420 days
    probability_within : (p,) in 0..1, of falling due within the days asked for; nan unknown
    governed_by : (p,) int8, see `GovernedBy`
    share_used : (p,) of the interval, the larger of cycles and days; 1.2 is 20 % over
    cycles_used : (p,) lifetime cycles since last done, carried forward to now
    state : (p,) int8, see `DueState`
    """

    due_cycles: Floats
    due_day: Floats
    due_day_by_cycles: Floats
    due_day_by_calendar: Floats
    due_day_early: Floats
    due_day_late: Floats
    beyond_horizon: Flags
    probability_within: Floats
    governed_by: Codes
    share_used: Floats
    cycles_used: Floats
    state: Codes


@dataclass(frozen=True)
class _Reach:
    """When a number of cycles is reached, counted from the last known point, (p,) each."""

    left: Floats
    effective: Floats
    early: Floats
    late: Floats


def due(
    as_of_day: Moment,
    tasks: Tasks,
    usage: Usage,
    calendar: Calendar,
    *,
    calibration: Calibration = UNCALIBRATED,
    within_days: float = 30.0,
) -> Due:
    """Tell when every task falls due.

    Parameters
    ----------
    as_of_day : epoch day, one or (n,)
    tasks : Tasks, p
    usage : Usage of n doors at ``as_of_day``
    calendar : Calendar of the same doors
    calibration : Calibration
    within_days : days ahead for ``probability_within``, not negative

    Returns
    -------
    Due

    Raises
    ------
    ValueError
        If an interval is not above 0.

    Notes
    -----
    Cycles left from the last known point, divided by the door's rate, give effective days; these
    are laid on the weekdays from ``as_of_day`` on. The interval follows from the calibrated error
    z of log counts: it is left at log(left) = log(rate × days) + z × spread.
    """
    _check_intervals(tasks)
    door = tasks.door
    now = np.broadcast_to(np.asarray(as_of_day, float), len(usage.log_rate))[door]
    until = now + within_days
    due_cycles = tasks.last_done_cycles + tasks.interval_cycles
    reach = _reach(due_cycles - usage.last_cycles[door], usage, door, calibration)
    since = usage.effective_since[door]
    day_of = partial(calendar.day_after, door, now)
    by_cycles = day_of(reach.effective - since)
    by_calendar = tasks.last_done_day + tasks.interval_days
    due_day = np.fmin(np.fmin(by_cycles, by_calendar), tasks.condition_day)
    late, horizon = day_of(reach.late - since), now + HORIZON_DAYS
    share_used = _share_used(now, tasks, usage)
    ahead = calendar.without_lay_ups(door, until) - calendar.without_lay_ups(door, now)
    return Due(
        due_cycles=due_cycles,
        due_day=due_day,
        due_day_by_cycles=by_cycles,
        due_day_by_calendar=by_calendar,
        due_day_early=np.minimum(day_of(reach.early - since), horizon),
        due_day_late=np.minimum(late, horizon),
        beyond_horizon=late > horizon,
        probability_within=np.fmax(
            _chance_by_cycles(reach.left, since + ahead, usage, door, calibration),
            _chance_by_date(by_calendar, tasks.condition_day, until),
        ),
        governed_by=_governed_by(by_cycles, by_calendar, tasks.condition_day),
        share_used=share_used,
        cycles_used=usage.cycles_now[door] - tasks.last_done_cycles,
        state=_state(now, due_day, share_used, tasks),
    )


def _check_intervals(tasks: Tasks) -> None:
    for name, interval in (("cycles", tasks.interval_cycles), ("days", tasks.interval_days)):
        if np.any(interval <= 0):
            raise ValueError(f"An interval in {name} must be above 0, got {np.nanmin(interval)}.")


def _share_used(now: Floats, tasks: Tasks, usage: Usage) -> Floats:
    """The larger of the shares of cycles and of days that are used up, (p,)."""
    cycles_used = usage.cycles_now[tasks.door] - tasks.last_done_cycles
    return np.fmax(
        cycles_used / tasks.interval_cycles, (now - tasks.last_done_day) / tasks.interval_days
    )


def _governed_by(by_cycles: Floats, by_calendar: Floats, condition_day: Floats) -> Codes:
    return np.select(
        [
            np.isfinite(condition_day),
            np.isnan(by_cycles) & np.isnan(by_calendar),
            np.isnan(by_calendar) | (by_cycles <= by_calendar),
        ],
        [GovernedBy.CONDITION, GovernedBy.NONE, GovernedBy.CYCLES],
        GovernedBy.DAYS,
    ).astype(np.int8)


def _reach(left: Floats, usage: Usage, door: Ints, calibration: Calibration) -> _Reach:
    log_rate, variance = usage.log_rate[door], usage.variance[door]
    effective = left / np.exp(log_rate)
    ahead = np.flatnonzero(left > 0)
    ends = []
    for probability in (0.9, 0.1):
        end = effective.copy()
        end[ahead] = _solve_days(
            np.log(left[ahead]), Rate(log_rate[ahead], variance[ahead]), probability, calibration
        )
        ends.append(end)
    return _Reach(left, effective, ends[0], ends[1])


def _solve_days(
    log_left: Floats, rate: Rate, probability: float, calibration: Calibration
) -> Floats:
    """Return effective days after which the cycles are passed unless the error exceeds a quantile.

    Newton steps on the log of the days; the slope is kept off 0, where a handful of cycles makes
    the spread shrink as fast as the days grow.
    """
    error = calibration.error_at(probability)
    start = log_left - rate.log_rate
    most = np.log(50.0 * HORIZON_DAYS)

    def shift(log_days: Floats) -> Floats:
        days = np.exp(np.minimum(log_days, most))
        spread = calibration.spread(rate.variance, days, np.exp(rate.log_rate) * days)
        return error * spread

    found = start
    for _ in range(_ITERATIONS):
        here = shift(found)
        slope = 1.0 + (shift(found + _NUDGE) - here) / _NUDGE
        found = found - (found - start + here) / np.maximum(slope, _LEAST_SLOPE)
    return np.exp(np.minimum(found, most))


def _chance_by_cycles(
    left: Floats, effective: Floats, usage: Usage, door: Ints, calibration: Calibration
) -> Floats:
    """Return the probability that the cycles left are done within so many effective days."""
    days = np.maximum(effective, 1e-6)
    cycles = np.exp(usage.log_rate[door]) * days
    spread = calibration.spread(usage.variance[door], days, cycles)
    ahead = left > 0
    error = (np.log(np.where(ahead, left, 1.0)) - np.log(cycles)) / spread
    chance = np.where(ahead, 1.0 - calibration.chance_below(error), 1.0)
    chance[np.isnan(left)] = np.nan
    return chance


def _chance_by_date(by_calendar: Floats, condition_day: Floats, until: Floats) -> Floats:
    """Return 1 where a date or a finding makes a task due, 0 where the date lies further off."""
    by_date = np.where(np.isnan(by_calendar), np.nan, (by_calendar <= until) * 1.0)
    return np.where(np.isfinite(condition_day), 1.0, by_date)


def _state(now: Floats, due_day: Floats, share_used: Floats, tasks: Tasks) -> Codes:
    return np.select(
        [
            np.isfinite(tasks.condition_day),
            np.isnan(share_used),
            share_used > 1.0 + tasks.window_after + _ROUNDING,
            (share_used >= 1.0 - _ROUNDING) | (np.floor(due_day) <= np.floor(now)),
            share_used >= 1.0 - tasks.window_before - _ROUNDING,
        ],
        [DueState.CONDITION, DueState.UNKNOWN, DueState.LATE, DueState.DUE, DueState.SOON],
        DueState.LATER,
    ).astype(np.int8)
