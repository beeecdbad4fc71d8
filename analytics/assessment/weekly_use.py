"""Past use of each part at each depot, week by week, carried forward flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.demand_terms import DAYS_OF_WEEK, Demand, DemandOverDays, MeanVariance
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.demand_history import WEEKS_IN_WINDOW, flat_year_demand
from analytics.models.part_outlook import DemandMethod

_FEWEST_WEEKS = 2


@dataclass(frozen=True)
class FlatUse:
    """Average pieces per week and their variance, (groups,), over so many weeks; pieces in all."""

    average: Floats
    spread: Floats
    total: Floats
    weeks: int

    def over_days(self, group: int) -> DemandOverDays:
        """Demand of one group as a function of days ahead."""
        average, spread, weeks = self.average[group], self.spread[group], self.weeks

        def moments(days: Floats) -> MeanVariance:
            ahead = np.asarray(days, dtype=float) / DAYS_OF_WEEK
            return average * ahead, spread * (ahead + ahead**2 / weeks)

        return moments


def flat_use(
    group: Ints, weeks_ago: Floats, quantity: Floats, *, groups: int, weeks: int
) -> FlatUse:
    """Spread past use over the weeks of the window and average it."""
    ago = np.floor(weeks_ago).astype(np.int64)
    rows = np.flatnonzero((group >= 0) & (ago >= 0) & (ago < weeks))
    weekly = np.zeros((groups, weeks))
    np.add.at(weekly, (group[rows], weeks - 1 - ago[rows]), quantity[rows])
    if not groups:
        return FlatUse(np.zeros(0), np.zeros(0), np.zeros(0), weeks)
    # One week ahead holds the variance of a week and that of the average behind it.
    found = flat_year_demand(weekly, [1.0])
    spread = found.variance[:, 0] / (1 + 1 / weeks)
    return FlatUse(found.mean[:, 0], spread, weekly.sum(axis=1), weeks)


def weeks_on_record(fleet: Fleet, record: PartsRecord) -> int:
    """Whole weeks of past use that are on record, 2 to 52."""
    days = np.concatenate((record.used.day, fleet.readings.kernel.day))
    if len(days) == 0:
        return _FEWEST_WEEKS
    weeks = (fleet.doors.day.max() - days.min()) / DAYS_OF_WEEK
    return int(np.clip(weeks, _FEWEST_WEEKS, WEEKS_IN_WINDOW))


def use_of_parts(fleet: Fleet, record: PartsRecord) -> FlatUse:
    """Use by part and depot (group = part row x depots + depot row), successors included."""
    doors, parts, used = fleet.doors, record.parts, record.used
    part, depots = parts.index_of(used.part_id), len(doors.depots)
    known = (part >= 0) & (used.depot >= 0)
    # What a superseded part was used for, its successor will be.
    group = np.where(known, parts.newest[part] * depots + used.depot, -1)
    return flat_use(
        group,
        (doors.day[used.door] - used.day) / DAYS_OF_WEEK,
        used.quantity,
        groups=len(parts.ids) * depots,
        weeks=weeks_on_record(fleet, record),
    )


def demand_from_use(use: FlatUse, depot: int, part: int, group: int) -> Demand:
    """Demand of a part without a usable life."""
    used = float(use.total[group])
    method = DemandMethod.HISTORY if used else DemandMethod.NONE
    basis: dict[str, float | str | None] = {"weeks": float(use.weeks), "used": used}
    return Demand(depot, part, method, use.over_days(group), basis)
