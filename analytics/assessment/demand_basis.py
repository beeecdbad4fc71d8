"""What a forecast of demand rests on, as the numbers that its sentence is made of."""

from __future__ import annotations

import numpy as np

from analytics.assessment.base_demand import BaseForecast
from analytics.assessment.demand_terms import Basis
from analytics.assessment.installed_base import Positions
from analytics.assessment.lives import ComponentLifeFound
from analytics.assessment.shocks import Shocks
from analytics.datasets.columns import Ints
from analytics.kernel.demand_calibration import DemandCalibration

SEASON_DAYS = 90.0


def fitted_basis(positions: Positions, chosen: Ints, life: ComponentLifeFound) -> Basis:
    """Positions with their ages and use, and the life of what is fitted there."""
    age, rate = positions.age_cycles[chosen], positions.cycles_per_day[chosen]
    known, first = ~np.isnan(age), life.by_revision[0]
    summary = first.summary()
    return {
        "positions": float(len(chosen)),
        "unknown_ages": float((~known).sum()),
        "cycles_per_day": float(rate.mean()),
        "age_cycles": float(age[known].mean()) if known.any() else None,
        "shape": summary.shape_median,
        "scale_cycles": summary.scale_median_cycles,
        "failures": life.lives.failures if life.revised is None else first.failures,
        "evidence": first.evidence,
    }


def revision_basis(positions: Positions, chosen: Ints, life: ComponentLifeFound) -> Basis:
    """How many are of a later revision, and the life of the latest; nothing with one alone."""
    if life.revised is None:
        return {}
    revision, latest = life.revision_of(positions.fitted_part_id[chosen]), life.by_revision[-1]
    return {
        "revised": float((revision > 0).sum()),
        "revised_scale_cycles": latest.summary().scale_median_cycles,
        "revised_failures": latest.failures,
        "revised_evidence": latest.evidence,
    }


def season_basis(positions: Positions, chosen: Ints) -> Basis:
    """What the next 90 days come to against as many ordinary ones; None = no season known."""
    if not positions.season.is_known:
        return {"season": None}
    group = np.zeros(len(chosen), np.int64)
    ahead = positions.effective_days(chosen, group, 1, np.array([SEASON_DAYS]))
    return {"season": float(ahead[0, 0] / SEASON_DAYS)}


def factor_basis(factor: DemandCalibration | None) -> Basis:
    """What past weeks taught; None where they have not been looked at."""
    if factor is None:
        return {"factor": None}
    alert = float(factor.alert)
    return {"factor": factor.factor, "factor_weeks": float(factor.weeks), "factor_alert": alert}


def work_basis(base: BaseForecast, group: int, weeks: int) -> Basis:
    """What comes on top of the ages: planned changes, parts taken along, weeks of use on record."""
    return {
        "planned_at_cycles": base.planned_at_cycles,
        "taken_along": float(base.along.total[group]),
        "weeks": float(weeks),
    }


def shock_basis(shocks: Shocks | None) -> Basis:
    """How many batches were kept apart, and their mean size."""
    if shocks is None:
        return {"batches": 0.0}
    sizes = shocks.batches.sizes
    return {"batches": float(len(sizes)), "batch_pieces": float(sizes.mean())}
