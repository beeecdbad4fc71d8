"""Demand for parts: nearer than the best of the methods that look at past use alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.count_distribution import match_counts
from analytics.kernel.demand import forecast_base_demand
from analytics.kernel.demand_calibration import calibrate_demand, learn_calibration
from analytics.kernel.demand_history import flat_year_demand, sba, tsb
from analytics.kernel.shock_batches import forecast_batches
from analytics.proof.claim import COVER_90, Claim, Effort, Floats
from analytics.proof.demand_world import (
    WEEK,
    ComponentLives,
    batches_then,
    days_ahead,
    draws_by_revision,
    lives_of,
    positions_then,
    usage_then,
    weekly_failures,
)
from analytics.proof.made_fleet import Followed, MadeFleet, follow, make_fleet
from analytics.synthetic.fleet import FleetPlan

GROUP = "demand"
DOORS, DAYS, FUTURE_DAYS = 2_500, 1_095, 91
COMPONENTS = ("converter", "coil_cable", "roller")
# What is forecast in each world: all three, or the one that comes in a new revision.
WORLDS = {
    "steady": COMPONENTS,
    "wear_out": COMPONENTS,
    "unknown_ages": COMPONENTS,
    "growth": COMPONENTS,
    "new_revision": ("converter",),
}
HORIZON_WEEKS, ORIGINS, LEARNING_WEEKS, REFIT_WEEKS = 10, 46, 52, 4
LEVELS = np.array([0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95])
ALPHA = 0.1


@dataclass(frozen=True)
class Score:
    """Sums over origins: pinball by method over mean demand, and shares under quantiles."""

    own: float
    history: Floats
    under_95: float
    inside_90: float


def claims(effort: Effort) -> list[Claim]:
    """Pinball against history and what the quantiles hold, in several worlds."""
    found = []
    for world, components in WORLDS.items():
        seeds = range(91, 91 + effort.runs(4))
        scores = [score for seed in seeds for score in scores_of(world, seed, components)]
        own = float(np.mean([each.own for each in scores]))
        best = float(np.mean([each.history for each in scores], axis=0).min())
        under = float(np.mean([each.under_95 for each in scores]))
        inside = float(np.mean([each.inside_90 for each in scores]))
        name = world.replace("_", " ")
        found += [
            Claim(GROUP, f"pinball over the best history method: {name}", own / best, 0, 0.90),
            Claim(GROUP, f"demand at or below its 95 % quantile: {name}", under, lowest=0.90),
            Claim(GROUP, f"90 % interval of demand holds it: {name}", inside, *COVER_90),
        ]
    held = factor_cover(effort.runs(800, 400))
    return [*found, Claim(GROUP, "90 % range of the factor on demand holds it", held, *COVER_90)]


def factor_cover(runs: int) -> float:
    """Half of the fleets fail as their age says, within 3 %, the others within 18 %."""
    rng, held = np.random.default_rng(95), []
    for run in range(runs):
        truth = float(np.exp(rng.normal(0, 0.03 if run % 2 else 0.18)))
        taken = rng.poisson(12.0 * truth, LEARNING_WEEKS)
        found = learn_calibration(np.full(LEARNING_WEEKS, 12.0), taken, 0.0)
        held.append(found.lower <= truth <= found.upper)
    return float(np.mean(held))


def scores_of(world: str, seed: int, components: tuple[str, ...] = COMPONENTS) -> list[Score]:
    """Forecast each component at rolling origins over the last weeks of one fleet's record."""
    plan = FleetPlan(DOORS, DAYS, seed, world, readings_per_door=DAYS / 20, future_days=FUTURE_DAYS)
    fleet = make_fleet(plan)
    followed = follow(fleet, DAYS)
    return [_score(fleet, followed, lives_of(fleet, name)) for name in components]


@dataclass(frozen=True)
class Weekly:
    """Forecasts made at the beginning of each week: mean and chance variance at 1 and H weeks.

    `batch_mean`, `batch_variance`: of the batches within H weeks; `ordinary`: failures of each
    week since the learning began, batches known by then left out.
    """

    mean: Floats
    chance: Floats
    relative: Floats
    batch_mean: Floats
    batch_variance: Floats
    ordinary: list[Floats]


def _score(fleet: MadeFleet, followed: Followed, lives: ComponentLives) -> Score:
    weeks = LEARNING_WEEKS + ORIGINS
    first = DAYS - weeks * WEEK
    forecast = _weekly_forecasts(fleet, followed, lives, first=first, weeks=weeks)
    begun, span = first - 52 * WEEK, 52 + weeks + HORIZON_WEEKS
    history = weekly_failures(fleet, lives, first_day=begun, weeks=span)
    truths, rows = [], []
    for k in range(LEARNING_WEEKS, weeks):
        past = history[: 52 + k]
        truth = float(history[52 + k : 52 + k + HORIZON_WEEKS].sum())
        learned = learn_calibration(
            forecast.mean[k - LEARNING_WEEKS : k, 0],
            forecast.ordinary[k][k - LEARNING_WEEKS : k],
            float(forecast.relative[k]),
        )
        wear = calibrate_demand(learned, forecast.mean[k, 1], forecast.chance[k, 1])
        mean = wear.mean + forecast.batch_mean[k]
        variance = wear.variance + forecast.batch_variance[k]
        rows.append([_quantiles(mean, variance), *_by_history(past)])
        truths.append(truth)
    return _scored(np.array(truths), np.array(rows))


def _scored(truth: Floats, said: Floats) -> Score:
    """Score quantiles said at each origin, (origins, methods, levels), ours first."""
    pinball = np.array([_pinball(truth, said[:, k]) for k in range(said.shape[1])]) / truth.mean()
    own = said[:, 0]
    inside = (own[:, 0] <= truth) & (truth <= own[:, -1])
    under = float((truth <= own[:, -1]).mean())
    return Score(float(pinball[0]), pinball[1:], under, float(inside.mean()))


def _weekly_forecasts(
    fleet: MadeFleet, followed: Followed, lives: ComponentLives, *, first: int, weeks: int
) -> Weekly:
    horizons = np.array([WEEK, WEEK * HORIZON_WEEKS])
    depot_weeks = HORIZON_WEEKS * (float(fleet.depot.max()) + 1)
    rows, ordinary = [], []
    for k in range(weeks):
        day = first + k * WEEK
        if k % REFIT_WEEKS == 0:
            shocks = batches_then(fleet, lives, day)
            draws = draws_by_revision(fleet, lives, day, shocks)
            apart = forecast_batches(shocks.batches, [depot_weeks])
        usage = usage_then(fleet, followed, day)
        ahead = days_ahead(fleet, followed, usage, day)[horizons]
        bases = []
        for of, each in draws:
            there = positions_then(fleet, lives, usage, day, of)
            if there.known is not None or there.unknown is not None:
                bases.append(forecast_base_demand(each, ahead, there.known, there.unknown))
        mean = np.sum([base.mean for base in bases], axis=0)
        chance = np.sum([base.within_by_draw.mean(axis=0) for base in bases], axis=0)
        unsure = sum(base.mean_by_draw[:, 0].var() for base in bases)
        relative = unsure / max(mean[0], 1e-9) ** 2
        rows.append([*mean, *chance, relative, apart.mean[0], apart.variance[0]])
        ordinary.append(
            weekly_failures(fleet, lives, first_day=first, weeks=k, without=shocks.ended)
        )
    table = np.array(rows)
    return Weekly(table[:, :2], table[:, 2:4], table[:, 4], table[:, 5], table[:, 6], ordinary)


def _by_history(past: Floats) -> list[Floats]:
    """Quantiles from the flat year, simple smoothing, TSB and SBA."""
    flat = flat_year_demand(past, [HORIZON_WEEKS])
    spread = max(float(past[-52:].var(ddof=1)), float(past[-52:].mean()))
    # A level smoothed with a carries a/(2 - a) of one week's variance.
    variance = spread * (HORIZON_WEEKS + HORIZON_WEEKS**2 * ALPHA / (2 - ALPHA))
    levels = [_smoothed(past), tsb(past, ALPHA, ALPHA)[-1], sba(past, ALPHA, ALPHA)[-1]]
    return [
        _quantiles(flat.mean[0, 0], flat.variance[0, 0]),
        *(_quantiles(max(float(level), 0.01) * HORIZON_WEEKS, variance) for level in levels),
    ]


def _smoothed(past: Floats) -> float:
    level = float(past[:8].mean())
    for taken in past[8:]:
        level += ALPHA * (taken - level)
    return level


def _quantiles(mean: float | Floats, variance: float | Floats) -> Floats:
    found = match_counts(np.atleast_1d(mean), np.atleast_1d(variance))
    return np.asarray(found.quantile(LEVELS), float).ravel()


def _pinball(truth: Floats, quantile: Floats) -> float:
    away = truth[:, None] - quantile
    return float(np.maximum(LEVELS * away, (LEVELS - 1) * away).mean())
