"""Demand for each part at each depot: from the parts fitted there, or from past use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from analytics.assessment.installed_base import Positions
from analytics.assessment.lives import ComponentLifeFound, has_family_prior
from analytics.datasets.columns import Floats
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.demand import bin_positions, bin_unknown_ages, forecast_base_demand
from analytics.kernel.demand_history import flat_year_demand
from analytics.models.part_outlook import DemandMethod

LIVES_ENOUGH = 20
FAILURES_ENOUGH_WITH_FAMILY = 3
LONGEST_DAYS = 730.0
_KNOTS = np.array([0.0, 7.0, 21.0, 45.0, 90.0, 150.0, 240.0, 365.0, 540.0, LONGEST_DAYS])
_DAYS_OF_WEEK = 7.0
_MOST_WEEKS = 52
_FEWEST_WEEKS = 2

MeanVariance = tuple[Floats, Floats]
DemandOverDays = Callable[[Floats], MeanVariance]


@dataclass(frozen=True)
class Demand:
    """Demand for one part at one depot as a function of days ahead, and what it rests on."""

    depot: int
    part: int
    method: DemandMethod
    over_days: DemandOverDays
    basis: dict[str, float | str | None]


def usable_life(life: ComponentLifeFound, kind: str) -> bool:
    """Whether a component's life can carry a forecast: enough lives, or a family that is known."""
    if life.posterior is None or life.lives.failures < 1:
        return False
    family = has_family_prior(life.code, kind)
    enough = life.lives.failures >= FAILURES_ENOUGH_WITH_FAMILY
    return life.lives.lives >= LIVES_ENOUGH or (family and enough)


def assess_demand(
    fleet: Fleet,
    record: PartsRecord,
    positions: Positions,
    lives: tuple[ComponentLifeFound, ...],
) -> list[Demand]:
    """One demand for every part and depot, by part, then depot."""
    kinds = dict(zip(fleet.components.codes, fleet.components.kinds, strict=True))
    usable = {life.component_id: life for life in lives if usable_life(life, kinds[life.code])}
    history = _History.of(fleet, record)
    found = []
    for part in range(len(record.parts.ids)):
        life = usable.get(int(record.parts.component_id[part]))
        for depot in range(len(fleet.doors.depots)):
            chosen = np.flatnonzero((positions.part == part) & (positions.depot == depot))
            if life is not None and len(chosen):
                found.append(_from_base(depot, part, positions, chosen, life))
            else:
                found.append(history.demand(depot, part))
    return found


def _from_base(
    depot: int, part: int, positions: Positions, chosen: np.ndarray, life: ComponentLifeFound
) -> Demand:
    """Replacements that ages, usage and the component's life make likely."""
    age, rate = positions.age_cycles[chosen], positions.cycles_per_day[chosen]
    known = ~np.isnan(age)
    ceiling, since = positions.ceiling_cycles[chosen], positions.since_cycles[chosen]
    posterior = life.posterior
    assert posterior is not None  # `usable_life` has looked
    found = forecast_base_demand(
        posterior.draws(),
        _KNOTS,
        bin_positions(age[known], rate[known]) if known.any() else None,
        bin_unknown_ages(ceiling[~known], since[~known], rate[~known]) if (~known).any() else None,
    )
    mean, variance = (PchipInterpolator(_KNOTS, each) for each in (found.mean, found.variance))
    summary = posterior.summary()

    def over_days(days: Floats) -> MeanVariance:
        within = np.minimum(days, LONGEST_DAYS)
        return np.maximum(mean(within), 0.0), np.maximum(variance(within), 0.0)

    return Demand(
        depot,
        part,
        DemandMethod.BASE,
        over_days,
        {
            "positions": float(len(chosen)),
            "unknown_ages": float((~known).sum()),
            "cycles_per_day": float(rate.mean()),
            "age_cycles": float(age[known].mean()) if known.any() else None,
            "shape": summary.shape_median,
            "scale_cycles": summary.scale_median_cycles,
            "failures": life.lives.failures,
            "evidence": posterior.evidence,
        },
    )


@dataclass(frozen=True)
class _History:
    """Past use per week by depot and part: average, variance of one week's forecast, weeks."""

    average: Floats
    spread: Floats
    weeks: int
    used: Floats

    @classmethod
    def of(cls, fleet: Fleet, record: PartsRecord) -> _History:
        doors, parts, used = fleet.doors, record.parts, record.used
        part = parts.index_of(used.part_id)
        age = np.floor((doors.day[used.door] - used.day) / _DAYS_OF_WEEK).astype(np.int64)
        weeks = _weeks_on_record(fleet, record)
        rows = np.flatnonzero((part >= 0) & (used.depot >= 0) & (age >= 0) & (age < weeks))
        weekly = np.zeros((len(doors.depots), len(parts.ids), weeks))
        # What a superseded part was used for, its successor will be.
        place = (used.depot[rows], parts.newest[part[rows]], weeks - 1 - age[rows])
        np.add.at(weekly, place, used.quantity[rows])
        shape = weekly.shape[:2]
        found = flat_year_demand(weekly.reshape(-1, weeks), [1.0]) if weekly.size else None
        average = found.mean.reshape(shape) if found else np.zeros(shape)
        spread = found.variance.reshape(shape) if found else np.zeros(shape)
        return cls(average, spread / (1 + 1 / weeks), weeks, weekly.sum(axis=2))

    def demand(self, depot: int, part: int) -> Demand:
        average, spread = self.average[depot, part], self.spread[depot, part]
        weeks_seen = self.weeks

        def over_days(days: Floats) -> MeanVariance:
            ahead = np.asarray(days, dtype=float) / _DAYS_OF_WEEK
            return average * ahead, spread * (ahead + ahead**2 / weeks_seen)

        used = float(self.used[depot, part])
        method = DemandMethod.HISTORY if used else DemandMethod.NONE
        return Demand(depot, part, method, over_days, {"weeks": float(weeks_seen), "used": used})


def _weeks_on_record(fleet: Fleet, record: PartsRecord) -> int:
    """Whole weeks of past use that are on record, 2 to 52."""
    days = np.concatenate((record.used.day, fleet.readings.kernel.day))
    if len(days) == 0:
        return _FEWEST_WEEKS
    weeks = (fleet.doors.day.max() - days.min()) / _DAYS_OF_WEEK
    return int(np.clip(weeks, _FEWEST_WEEKS, _MOST_WEEKS))
