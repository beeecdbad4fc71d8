"""Weeks in which one outside cause took many parts of a depot at once, kept apart from wear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Flags, Floats
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet
from analytics.kernel.shock_batches import BatchedRows, batches_among, forecast_batches

DAYS_OF_WEEK = 7.0
LONGEST_WEEKS = 156


@dataclass(frozen=True)
class Shocks:
    """Batches of one component, and which fitments (all components' rows) they ended."""

    batches: BatchedRows
    ended: Flags

    def __bool__(self) -> bool:
        return bool(len(self.batches.sizes))


def find_shocks(fleet: Fleet, component_id: int) -> Shocks:
    """Look through the failures of a component, week by week and depot by depot."""
    parts, doors = fleet.fitments, fleet.doors
    depot = doors.depot[parts.door]
    failed = (parts.component_id == component_id) & (parts.end == End.FAILED)
    rows = np.flatnonzero(failed & (depot >= 0) & ~np.isnan(parts.removed_day))
    ago = np.maximum(doors.day[parts.door[rows]] - parts.removed_day[rows], 0.0)
    weeks = int(np.clip(np.ceil((ago.max(initial=0.0) + 1) / DAYS_OF_WEEK), 1, LONGEST_WEEKS))
    day = weeks * DAYS_OF_WEEK - 1 - ago
    rows, day = rows[day >= 0], day[day >= 0]
    served, place = np.unique(depot[rows], return_inverse=True)
    found = batches_among(place, day, depots=max(len(served), 1), weeks=weeks)
    ended = np.zeros(len(parts.door), bool)
    ended[rows] = found.in_batch
    return Shocks(found, ended)


def shock_demand(shocks: Shocks, days: Floats) -> tuple[Floats, Floats]:
    """Mean and variance of the pieces that batches take at one depot within days ahead."""
    found = forecast_batches(shocks.batches, np.asarray(days, float) / DAYS_OF_WEEK)
    return found.mean, found.variance
