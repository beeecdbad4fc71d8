"""What each depot will need, as it was foreseen at the beginning of each week."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from analytics.kernel.demand import forecast_base_demand
from analytics.kernel.demand_calibration import (
    CalibratedDemand,
    calibrate_demand,
    learn_calibration,
)
from analytics.kernel.posterior import WeibullDraws
from analytics.kernel.shock_batches import forecast_batches
from analytics.proof.claim import Floats
from analytics.proof.demand_world import (
    WEEK,
    BatchesThen,
    ComponentLives,
    Flags,
    batches_then,
    days_ahead,
    draws_by_revision,
    positions_then,
    usage_then,
    weekly_failures,
)
from analytics.proof.made_fleet import Followed, MadeFleet

LAST_KNOT = 189
KNOTS = np.array([0, 7, 21, 45, 90, 150, LAST_KNOT])
LEARNING_WEEKS, REFIT_WEEKS = 52, 8

# How the fleet's use was known by a day of the record.
FollowedBy = Callable[[int], Followed]


@dataclass(frozen=True, eq=False)
class Ahead:
    """Need at the knots by store, mean and variance, (stores, knots)."""

    mean: Floats
    variance: Floats

    def over_days(self, days: Floats) -> tuple[Floats, Floats]:
        """Mean and variance within days ahead, (stores, days)."""
        mean, variance = (
            np.maximum(PchipInterpolator(KNOTS, each, axis=1)(days), 0.0)
            for each in (self.mean, self.variance)
        )
        return mean, variance


@dataclass(frozen=True, eq=False)
class _ByAge:
    """What ages and use let expect at the knots, (stores, knots), and how unsure the life is."""

    mean: Floats
    chance: Floats
    relative_variance: float


def needs_ahead(
    fleet: MadeFleet, lives: ComponentLives, followed_by: FollowedBy, *, first: int, weeks: int
) -> list[Ahead]:
    """Need foreseen at the beginning of each week from a day on; the last store is the fleet.

    Lives are fitted anew every 8 weeks; the factor of each week is learned from the 52 before.
    """
    begun = first - LEARNING_WEEKS * WEEK
    week_ahead, found = [], []
    for k in range(LEARNING_WEEKS + weeks):
        day = begun + k * WEEK
        if k % REFIT_WEEKS == 0:
            shocks = batches_then(fleet, lives, day)
            draws = draws_by_revision(fleet, lives, day, shocks)
        by_age = _by_age(fleet, lives, followed_by(day), day, draws)
        week_ahead.append(float(by_age.mean[-1, 1]))
        if k >= LEARNING_WEEKS:
            learned = learn_calibration(
                week_ahead[k - LEARNING_WEEKS : k],
                weekly_failures(fleet, lives, first_day=begun, weeks=k, without=shocks.ended)[
                    k - LEARNING_WEEKS :
                ],
                by_age.relative_variance,
            )
            wear = calibrate_demand(learned, by_age.mean, by_age.chance)
            found.append(_and_batches(wear, shocks))
    return found


def _by_age(
    fleet: MadeFleet,
    lives: ComponentLives,
    followed: Followed,
    day: int,
    draws: list[tuple[Flags, WeibullDraws]],
) -> _ByAge:
    usage = usage_then(fleet, followed, day)
    ahead = days_ahead(fleet, followed, usage, day)[KNOTS]
    bases = []
    for of, each in draws:
        there = positions_then(fleet, lives, usage, day, of, by_depot=True)
        if there.known is not None or there.unknown is not None:
            bases.append(forecast_base_demand(each, ahead, there.known, there.unknown))
    mean = _with_fleet(np.sum([base.mean for base in bases], axis=0))
    chance = _with_fleet(np.sum([base.within_by_draw.mean(axis=0) for base in bases], axis=0))
    unsure = sum(float(base.mean_by_draw[:, :, 1].sum(axis=1).var()) for base in bases)
    return _ByAge(mean, np.maximum(chance, 0.0), unsure / max(mean[-1, 1], 1e-9) ** 2)


def _with_fleet(by_depot: Floats) -> Floats:
    """One row more: all depots together."""
    return np.concatenate((by_depot, by_depot.sum(axis=0, keepdims=True)))


def _and_batches(wear: CalibratedDemand, shocks: BatchesThen) -> Ahead:
    depots = np.ones(len(wear.mean))
    depots[-1] = len(wear.mean) - 1
    apart = forecast_batches(shocks.batches, (depots[:, None] * KNOTS / WEEK).ravel())
    shape = wear.mean.shape
    return Ahead(
        wear.mean + apart.mean.reshape(shape), wear.variance + apart.variance.reshape(shape)
    )
