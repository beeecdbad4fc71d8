"""Demand for each part at each depot: from the parts fitted there, or from past use."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analytics.assessment.base_demand import forecast_base, with_failed_neighbour
from analytics.assessment.demand_basis import (
    factor_basis,
    fitted_basis,
    revision_basis,
    season_basis,
    shock_basis,
    work_basis,
)
from analytics.assessment.demand_terms import Basis, Demand, DemandOverDays, MeanVariance
from analytics.assessment.installed_base import Positions
from analytics.assessment.lives import ComponentLifeFound, has_family_prior
from analytics.assessment.shocks import Shocks, shock_demand
from analytics.assessment.weekly_use import demand_from_use, use_of_parts
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.demand_calibration import DemandCalibration
from analytics.models.part_outlook import DemandMethod

# By component code.
DemandFactors = Mapping[str, DemandCalibration]
LIVES_ENOUGH = 20
FAILURES_ENOUGH_WITH_FAMILY = 3


def usable_life(life: ComponentLifeFound, kind: str) -> bool:
    """Whether a component's life can carry a forecast: enough lives, or a family that is known."""
    if life.posterior is None or life.lives.failures < 1:
        return False
    family = has_family_prior(life.code, kind)
    enough = life.lives.failures >= FAILURES_ENOUGH_WITH_FAMILY
    return life.lives.lives >= LIVES_ENOUGH or (family and enough)


def _with_shocks(wear: DemandOverDays, shocks: Shocks | None, share: float) -> DemandOverDays:
    """Demand by wear, and on top a share of the batches that a depot can expect."""
    if shocks is None:
        return wear
    apart = shocks

    def moments(days: Floats) -> MeanVariance:
        mean, variance = wear(days)
        batch_mean, batch_variance = shock_demand(apart, days)
        return mean + share * batch_mean, variance + share * batch_variance

    return moments


def assess_demand(
    fleet: Fleet,
    record: PartsRecord,
    positions: Positions,
    lives: tuple[ComponentLifeFound, ...],
    factors: DemandFactors,
) -> list[Demand]:
    """One demand for every part and depot, by part, then depot."""
    depots, use = len(fleet.doors.depots), use_of_parts(fleet, record)
    group = np.where(positions.part >= 0, positions.part * depots + positions.depot, -1)
    found = _from_fitted_parts(
        fleet, record, positions, lives, group=group, weeks=use.weeks, factors=factors
    )
    return [
        found.get(part * depots + depot) or demand_from_use(use, depot, part, part * depots + depot)
        for part in range(len(record.parts.ids))
        for depot in range(depots)
    ]


def _from_fitted_parts(
    fleet: Fleet,
    record: PartsRecord,
    positions: Positions,
    lives: tuple[ComponentLifeFound, ...],
    *,
    group: Ints,
    weeks: int,
    factors: DemandFactors,
) -> dict[int, Demand]:
    """Demand by group, of the components whose life is known well enough."""
    kinds = dict(zip(fleet.components.codes, fleet.components.kinds, strict=True))
    in_company = with_failed_neighbour(fleet)
    found: dict[int, Demand] = {}
    for life in lives:
        own = np.flatnonzero((positions.component_id == life.component_id) & (group >= 0))
        if life.of_wear is None or not len(own) or not usable_life(life, kinds[life.code]):
            continue
        served, local = np.unique(group[own], return_inverse=True)
        base = forecast_base(
            fleet,
            record,
            positions,
            life,
            group=_placed(own, local, len(group)),
            groups=len(served),
            weeks=weeks,
            in_company=in_company,
            factor=factors.get(life.code),
        )
        for k, each in enumerate(served.tolist()):
            part, depot = divmod(each, len(fleet.doors.depots))
            basis = _basis(positions, own[local == k], life, factors) | work_basis(base, k, weeks)
            there = int((positions.depot[own] == depot).sum())
            over_days = _with_shocks(base.over_days(k), life.shocks, (local == k).sum() / there)
            found[each] = Demand(depot, part, DemandMethod.BASE, over_days, basis)
    return found


def _basis(
    positions: Positions, chosen: Ints, life: ComponentLifeFound, factors: DemandFactors
) -> Basis:
    return {
        **fitted_basis(positions, chosen, life),
        **revision_basis(positions, chosen, life),
        **season_basis(positions, chosen),
        **factor_basis(factors.get(life.code)),
        **shock_basis(life.shocks),
    }


def _placed(rows: Ints, values: Ints, length: int) -> Ints:
    """The values at their rows, -1 elsewhere."""
    place = np.full(length, -1)
    place[rows] = values
    return place
