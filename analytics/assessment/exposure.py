"""Each door's window on the cycle axis, and where on it its faults lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import Series, cycles_at, window_end


@dataclass(frozen=True)
class Exposure:
    """Windows (n,) in lifetime cycles; the cycles at each fault (f,) and each task done (k,)."""

    start_cycles: Floats
    end_cycles: Floats
    fault_cycles: Floats
    task_cycles: Floats

    @property
    def window_cycles(self) -> Floats:
        """Cycles on record, (n,)."""
        return self.end_cycles - self.start_cycles


def assess_exposure(fleet: Fleet, series: Series) -> Exposure:
    """Place what happened, and widen each door's window until it holds it."""
    opening = fleet.doors.opening_cycles
    faults, tasks, parts = fleet.faults, fleet.tasks_done, fleet.fitments
    fault_cycles = _placed(series, opening, faults.door, faults.day, faults.at_cycles)
    task_cycles = _placed(series, opening, tasks.door, tasks.day, tasks.at_cycles)
    door = np.concatenate((faults.door, tasks.door, parts.door, parts.door))
    cycles = np.concatenate(
        (fault_cycles, task_cycles, parts.fitted_at_cycles, parts.removed_at_cycles)
    )
    start = opening.copy()
    # A fault noted before the record's own beginning is counted too, with the cycles up to it.
    np.minimum.at(start, faults.door, fault_cycles)
    return Exposure(start, window_end(opening, series, door, cycles), fault_cycles, task_cycles)


def _placed(series: Series, opening: Floats, door: Ints, day: Floats, noted: Floats) -> Floats:
    """The cycles noted, else those between the readings around, else the record's beginning."""
    found = noted.copy()
    missing = np.flatnonzero(np.isnan(noted))
    between = cycles_at(series, door[missing], day[missing]).cycles
    found[missing] = np.where(np.isnan(between), opening[door[missing]], between)
    return found
