"""Announced changes laid over what the fleet of today will need.

Another use stretches the days ahead, new trucks bring new parts that begin to wear on their day,
and a campaign takes its pieces over its time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analytics.assessment.announced_use import UseAhead, use_ahead
from analytics.assessment.base_demand import (
    LONGEST_DAYS,
    forecast_new_parts,
    planned_age,
    with_failed_neighbour,
)
from analytics.assessment.demand import DemandFactors, assess_demand, usable_life
from analytics.assessment.demand_terms import Demand, DemandOverDays, MeanVariance
from analytics.assessment.installed_base import NO_PART, Positions, usual_part_at
from analytics.assessment.lives import ComponentLifeFound
from analytics.datasets.announced import NewTrucks
from analytics.datasets.columns import Floats
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.announced import campaign_demand
from analytics.models.part_outlook import DemandMethod

USE, TRUCKS, CAMPAIGN = "use", "trucks", "campaign"
PACE_DAYS = 90.0
Place = tuple[int, int | str]


@dataclass(frozen=True)
class Foreseen:
    """What a forecast of parts rests on: the record, positions, cycles a day (n doors), lives."""

    fleet: Fleet
    record: PartsRecord
    positions: Positions
    cycles_per_day: Floats
    lives: tuple[ComponentLifeFound, ...]
    factors: DemandFactors


def foresee_demand(base: Foreseen) -> list[Demand]:
    """Demand of every part at every depot, announced changes in it."""
    demands = assess_demand(base.fleet, base.record, base.positions, base.lives, base.factors)
    return with_announced(demands, base)


def with_announced(demands: list[Demand], base: Foreseen) -> list[Demand]:
    """The same demands with what the record says was announced; the same list without any."""
    announced = base.record.announced
    if not announced:
        return demands
    day = base.fleet.doors.depots.day
    found = _with_use(demands, base) if announced.uses else list(demands)
    place = {(each.part, each.depot): k for k, each in enumerate(found)}
    for part, depot, more in _of_new_trucks(base, demands):
        k = place[part, depot]
        found[k] = _added(found[k], TRUCKS, more)
    for campaign in announced.campaigns:
        if campaign.part >= 0 and campaign.depot >= 0:
            k, now = place[campaign.part, campaign.depot], day[campaign.depot]
            more = _of_campaign(
                from_day=campaign.from_day - now,
                until_day=campaign.until_day - now,
                doors=campaign.doors,
                pieces=campaign.pieces,
            )
            found[k] = _added(found[k], CAMPAIGN, more)
    return found


def _added(demand: Demand, kind: str, more: DemandOverDays) -> Demand:
    """The demand and more of it, noted under its kind."""
    plain, before = demand.over_days, demand.announced.get(kind)

    def moments(days: Floats) -> MeanVariance:
        (mean, variance), (extra, spread) = plain(days), more(days)
        return mean + extra, variance + spread

    def of_kind(days: Floats) -> Floats:
        return more(days)[0] + (before(days) if before else 0.0)

    return replace(demand, over_days=moments, announced={**demand.announced, kind: of_kind})


def _with_use(demands: list[Demand], base: Foreseen) -> list[Demand]:
    ahead = use_ahead(base.fleet, base.record, base.positions, base.cycles_per_day)
    return [_stretched(each, ahead) for each in demands]


def _stretched(demand: Demand, ahead: UseAhead) -> Demand:
    """The demand where days ahead count by the use announced."""
    present = ahead.of(demand.part, demand.depot)
    if present is None:
        return demand
    plain, stretch = _carried_on(demand.over_days), present

    def moments(days: Floats) -> MeanVariance:
        return plain(stretch(days))

    def more(days: Floats) -> Floats:
        return plain(stretch(days))[0] - plain(days)[0]

    return replace(demand, over_days=moments, announced={**demand.announced, USE: more})


def _carried_on(plain: DemandOverDays) -> DemandOverDays:
    """The demand, carried on at its last pace beyond the days that a forecast reaches."""

    def moments(days: Floats) -> MeanVariance:
        over = np.maximum(days - LONGEST_DAYS, 0.0) / PACE_DAYS
        mean, variance = plain(np.minimum(days, LONGEST_DAYS))
        if not over.any():
            return mean, variance
        end, before = plain(np.array([LONGEST_DAYS])), plain(np.array([LONGEST_DAYS - PACE_DAYS]))
        return mean + over * (end[0] - before[0]), variance + over * (end[1] - before[1])

    return moments


def _of_campaign(
    *, from_day: float, until_day: float, doors: int, pieces: int
) -> Callable[[Floats], MeanVariance]:
    def moments(days: Floats) -> MeanVariance:
        found = campaign_demand(
            days, from_day=from_day, until_day=until_day, doors=doors, pieces=pieces
        )
        return found.mean, found.variance

    return moments


def _of_new_trucks(
    base: Foreseen, demands: list[Demand]
) -> Iterable[tuple[int, int, DemandOverDays]]:
    """Part row, depot row, and demand of the parts that trucks still to come bring along."""
    waiting = still_to_come(base)
    if not waiting:
        return
    kinds = dict(zip(base.fleet.components.codes, base.fleet.components.kinds, strict=True))
    lives = [each for each in base.lives if each.of_wear and usable_life(each, kinds[each.code])]
    in_company = with_failed_neighbour(base.fleet)
    planned = {each.code: planned_age(base.fleet, each.component_id, in_company) for each in lives}
    for trucks, doors in waiting:
        delay = max(trucks.from_day - base.fleet.doors.depots.day[trucks.depot], 0.0)
        served = set()
        for life in lives:
            part = usual_part_at(
                base.fleet, base.record, life.component_id, trucks.model, trucks.depot
            )
            pieces = doors * _pieces_on_a_door(base, life.component_id, trucks.model)
            if part == NO_PART or not pieces:
                continue
            served.add(part)
            more = forecast_new_parts(
                life,
                int(base.record.parts.ids[part]),
                pieces=pieces,
                cycles_per_day=trucks.cycles_per_day,
                planned_at=planned[life.code],
                factor=base.factors.get(life.code),
            )
            yield part, trucks.depot, _delayed(more, delay)
        yield from _by_exposure(base, demands, trucks, doors, served)


def still_to_come(base: Foreseen) -> list[tuple[NewTrucks, int]]:
    """Announced trucks with the doors of them that are not yet on record."""
    rows, told = base.fleet.doors, base.record.announced.trucks
    came: dict[Place, list[float]] = {}
    columns = (rows.depot.tolist(), rows.model.tolist(), rows.record_from_day.tolist())
    for depot, model, day in zip(*columns, strict=True):
        came.setdefault((depot, rows.model_codes[model]), []).append(day)
    asked = [((each.depot, each.model), each.told_day, each.doors) for each in told]
    left = zip(told, came_of_each(asked, came), strict=True)
    return [
        (each, each.doors - count) for each, count in left if each.depot >= 0 and count < each.doors
    ]


def came_of_each(
    told: Sequence[tuple[Place, float, int]], came: Mapping[Place, Sequence[float]]
) -> list[int]:
    """How many doors of each announcement came since the day it was made.

    `told`: depot and model, day, doors, what comes first before; `came`: days on which the record
    of the doors of a depot and model began. A door counts for one announcement only.
    """
    left = {place: sorted(days) for place, days in came.items()}
    found = []
    for place, told_day, doors in told:
        new = [day for day in left.get(place, []) if day >= told_day][:doors]
        for day in new:
            left[place].remove(day)
        found.append(len(new))
    return found


def _pieces_on_a_door(base: Foreseen, component_id: int, model: str) -> float:
    """Mean number of a component's positions on a door of the model; of any, if there is none."""
    doors, positions = base.fleet.doors, base.positions
    in_use = doors.in_service & (doors.depot >= 0)
    of_model = in_use & (np.array(doors.model_codes)[doors.model] == model)
    chosen = of_model if of_model.any() else in_use
    own = positions.door[positions.component_id == component_id]
    return float(chosen[own].sum() / chosen.sum()) if chosen.any() else 0.0


def _by_exposure(
    base: Foreseen,
    demands: list[Demand],
    trucks: NewTrucks,
    doors: int,
    served: set[int],
) -> Iterable[tuple[int, int, DemandOverDays]]:
    """Where only past use is known: as much more as the depot's doors will run more."""
    rows, fits = base.fleet.doors, base.record.parts.fits
    delay = max(trucks.from_day - rows.depots.day[trucks.depot], 0.0)
    here = rows.in_service & (rows.depot == trucks.depot)
    models = np.array(rows.model_codes)[rows.model]
    for demand in demands:
        if demand.depot != trucks.depot or demand.method != DemandMethod.HISTORY:
            continue
        fitting = fits[demand.part]
        if demand.part in served or (fitting and trucks.model not in fitting):
            continue
        alike = here & np.isin(models, list(fitting)) if fitting else here
        run = float(base.cycles_per_day[alike].sum())
        if run > 0:
            share = doors * trucks.cycles_per_day / run
            yield demand.part, trucks.depot, _delayed(_times(demand.over_days, share), delay)


def _times(plain: DemandOverDays, share: float) -> DemandOverDays:
    def moments(days: Floats) -> MeanVariance:
        mean, variance = plain(days)
        return share * mean, share * variance

    return moments


def _delayed(plain: DemandOverDays, delay: float) -> DemandOverDays:
    """The demand that begins after some days."""

    def moments(days: Floats) -> MeanVariance:
        return plain(np.maximum(np.asarray(days, dtype=float) - delay, 0.0))

    return moments
