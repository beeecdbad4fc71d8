"""Due dates forecast on a past date, against the day on which the cycles were reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.checking.origins import Then
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import Series

# Wider than any door's lifetime cycles, so that door and cycles sort as one number.
_SPAN = 1e9


@dataclass(frozen=True)
class DueOutcomes:
    """One row per forecast whose range has passed: depot id, whether it held, errors in days."""

    depot_id: Ints
    inside: Floats
    error: Floats
    naive_error: Floats


def due_outcomes(then: Then, now: Fleet, series: Series) -> DueOutcomes:
    """Hold due dates of a past date against the readings known now.

    Only forecasts whose whole range lies before the door's last reading are looked at: choosing
    by what happened would flatter them.
    """
    found, usage = then.doors.due.due, then.doors.usage.usage
    tasks_door = then.doors.due.door
    door = now.doors.index_of(then.fleet.doors.ids[tasks_door])
    last_day = np.full(len(now.doors) + 1, -np.inf)
    some = np.flatnonzero(np.diff(series.offsets) > 0)
    last_day[some] = series.day[series.offsets[some + 1] - 1]
    ahead = found.due_cycles > usage.last_cycles[tasks_door]
    passed = ahead & ~found.beyond_horizon & (found.due_day_late <= last_day[door])
    # A task that is never done any more still has its cycles: what is tested is the usage.
    chosen = np.flatnonzero(passed & (found.due_day_late > then.day))
    truth = day_reached(series, door[chosen], found.due_cycles[chosen])
    seen = np.minimum(truth, last_day[door[chosen]])
    naive = _by_last_two(then, tasks_door[chosen], found.due_cycles[chosen])
    held = (found.due_day_early[chosen] <= truth) & (truth <= found.due_day_late[chosen])
    return DueOutcomes(
        depot_id=then.fleet.doors.depots.ids[then.fleet.doors.depot[tasks_door[chosen]]],
        inside=held.astype(float),
        error=np.abs(found.due_day_by_cycles[chosen] - seen),
        naive_error=np.abs(np.minimum(naive, last_day[door[chosen]]) - seen),
    )


def day_reached(series: Series, door: Ints, cycles: Floats) -> Floats:
    """Epoch day on which doors reached so many cycles, between the readings around; inf if not."""
    keys = series.door() * _SPAN + series.cycles
    after = np.searchsorted(keys, door * _SPAN + cycles)
    reached = (after < series.offsets[door + 1]) & (after > series.offsets[door])
    found = np.full(len(door), np.inf)
    upper = after[reached]
    span = series.cycles[upper] - series.cycles[upper - 1]
    share = (cycles[reached] - series.cycles[upper - 1]) / np.where(span > 0, span, 1.0)
    found[reached] = series.day[upper - 1] + share * (series.day[upper] - series.day[upper - 1])
    return found


def _by_last_two(then: Then, door: Ints, due_cycles: Floats) -> Floats:
    """The day that the last two readings known then, drawn on as a straight line, give."""
    series = then.doors.usage.series
    last = series.offsets[door + 1] - 1
    before = np.maximum(last - 1, series.offsets[door])
    days = np.maximum(series.day[last] - series.day[before], 1e-3)
    per_day = (series.cycles[last] - series.cycles[before]) / days
    left = due_cycles - series.cycles[last]
    return series.day[last] + left / np.maximum(per_day, 1e-3)
