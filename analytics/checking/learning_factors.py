"""The factor between what the ages of parts say and what then fails, week by week."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from analytics.assessment.base_demand import by_revision
from analytics.assessment.demand import usable_life
from analytics.assessment.installed_base import Positions
from analytics.assessment.lives import ComponentLifeFound
from analytics.assessment.shocks import find_shocks
from analytics.checking.origins import DAYS_BETWEEN_ORIGINS, Then
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet
from analytics.kernel.demand import (
    BaseDemand,
    bin_positions,
    bin_unknown_ages,
    forecast_base_demand,
)
from analytics.kernel.demand_calibration import DemandCalibration, learn_calibration
from analytics.kernel.posterior import WeibullPosterior

WEEK = 7
WEEKS_OF_AN_ORIGIN = DAYS_BETWEEN_ORIGINS // WEEK
FEWEST_WEEKS = 8


@dataclass
class WeeksSeen:
    """Forecast and actual failures of one component, oldest week first."""

    forecast: list[float] = field(default_factory=list)
    actual: list[float] = field(default_factory=list)
    relative_variance: float = 0.0


class FactorLearner:
    """Gathers the weeks after each past date, and says what they have taught so far."""

    def __init__(self) -> None:
        self._weeks: dict[str, WeeksSeen] = defaultdict(WeeksSeen)

    def factors(self) -> dict[str, DemandCalibration]:
        """By component code, of components seen long enough."""
        return {
            code: learn_calibration(seen.forecast, seen.actual, seen.relative_variance)
            for code, seen in self._weeks.items()
            if len(seen.forecast) >= FEWEST_WEEKS and sum(seen.forecast) > 0
        }

    def look(self, then: Then, now: Fleet) -> None:
        """Add the four weeks after a past date: failures forecast then, and known now.

        Failures that came in a batch are foreseen apart, and teach nothing here.
        """
        kinds = dict(zip(then.fleet.components.codes, then.fleet.components.kinds, strict=True))
        for life in then.lives:
            if life.of_wear is None or not usable_life(life, kinds[life.code]):
                continue
            seen = self._weeks[life.code]
            self._forecast(seen, then, life)
            seen.actual += failed_by_week(then, now, life.component_id).tolist()

    def _forecast(self, seen: WeeksSeen, then: Then, life: ComponentLifeFound) -> None:
        rows = np.flatnonzero(then.positions.component_id == life.component_id)
        if life.of_wear is None or not len(rows):
            seen.forecast += [0.0] * WEEKS_OF_AN_ORIGIN
            return
        weeks = np.arange(1.0, WEEKS_OF_AN_ORIGIN + 1) * WEEK
        days = then.positions.effective_days(rows, np.zeros(len(rows), np.int64), 1, weeks)[0]
        parts = by_revision(then.positions, rows, life)
        bases = [_base(then.positions, own, posterior, days) for own, posterior in parts]
        mean = sum((base.mean for base in bases), np.zeros(len(weeks)))
        unsure = sum(float(base.mean_by_draw[:, -1].var()) for base in bases)
        seen.forecast += np.diff(mean, prepend=0.0).tolist()
        seen.relative_variance = unsure / max(float(mean[-1]), 1e-9) ** 2


def _base(at: Positions, rows: Ints, posterior: WeibullPosterior, days: Floats) -> BaseDemand:
    """What some positions need within days of ordinary running."""
    known = ~np.isnan(at.age_cycles[rows])
    old, lost = rows[known], rows[~known]
    return forecast_base_demand(
        posterior.draws(),
        days,
        bin_positions(at.age_cycles[old], at.cycles_per_day[old]) if len(old) else None,
        bin_unknown_ages(at.ceiling_cycles[lost], at.since_cycles[lost], at.cycles_per_day[lost])
        if len(lost)
        else None,
    )


def failed_by_week(then: Then, now: Fleet, component_id: int) -> Floats:
    """Failures in the weeks after the date on doors that were on record then."""
    parts = now.fitments
    there = np.isin(now.doors.ids[parts.door], then.fleet.doors.ids)
    rows = there & (parts.component_id == component_id) & (parts.end == End.FAILED)
    rows &= ~find_shocks(now, component_id).ended
    days = parts.removed_day[rows] - then.day
    week = np.floor(days[~np.isnan(days)] / WEEK).astype(int)
    inside = (week >= 0) & (week < WEEKS_OF_AN_ORIGIN)
    return np.bincount(week[inside], minlength=WEEKS_OF_AN_ORIGIN).astype(float)
