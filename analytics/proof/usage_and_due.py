"""Due dates: as near as claimed, and as sure as said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.calibration import calibrate
from analytics.kernel.due import Tasks, due
from analytics.kernel.usage import usage_at
from analytics.proof.claim import COVER_80, Claim, Effort, Floats
from analytics.proof.made_fleet import Followed, follow, make_fleet
from analytics.synthetic.fleet import FleetPlan

GROUP = "usage and due"
DOORS, DAYS, FUTURE_DAYS = 1_500, 900, 420
INTERVAL_CYCLES, CAP_DAYS = 4_000.0, 420.0
RATE_DAYS, WITHIN_DAYS = 30, 60.0


@dataclass(frozen=True)
class Measured:
    """One fleet's errors in days, shares of intervals that held, and chances against outcomes."""

    error: Floats
    naive_error: Floats
    held: Floats
    rate_held: Floats
    chance: Floats
    within: Floats


def claims(effort: Effort) -> list[Claim]:
    """Measure several fleets and put them together."""
    found = [measure(seed) for seed in range(11, 11 + effort.runs(4, 1))]
    held = np.concatenate([each.held for each in found])
    rate_held = np.concatenate([each.rate_held for each in found])
    own = float(np.concatenate([each.error for each in found]).mean())
    naive = float(np.concatenate([each.naive_error for each in found]).mean())
    chance = np.concatenate([each.chance for each in found])
    within = np.concatenate([each.within for each in found])
    return [
        *_month_claims(found, effort),
        Claim(GROUP, "80 % interval of the due date holds", float(held.mean()), *COVER_80),
        Claim(GROUP, "mean error of due dates against the last two readings", own / naive, 0, 0.85),
        Claim(GROUP, "80 % interval of cycles a day holds", float(rate_held.mean()), *COVER_80),
        Claim(GROUP, "chance of falling due in 60 days, mean gap", _gap(chance, within), 0, 0.05),
    ]


def _month_claims(with_season: list[Measured], effort: Effort) -> list[Claim]:
    """What learning months gains in fleets with 10 % of season, and costs in those without."""
    seeds = range(11, 11 + effort.runs(4, 1))
    without = [measure(seed, by_month=False) for seed in seeds]
    seeds = range(11, 11 + effort.runs(2, 1))
    even = [[measure(seed, "even_year", by_month=by) for seed in seeds] for by in (True, False)]
    gain = _mean_error(with_season) / _mean_error(without)
    cost = _mean_error(even[0]) / _mean_error(even[1])
    held = float(np.concatenate([each.held for each in even[0]]).mean())
    return [
        Claim(GROUP, "error with months learned over without: 10 % season", gain, 0, 0.98),
        Claim(GROUP, "error with months learned over without: no season", cost, 0, 1.01),
        Claim(GROUP, "80 % interval of the due date holds: no season", held, *COVER_80),
    ]


def _mean_error(found: list[Measured]) -> float:
    return float(np.concatenate([each.error for each in found]).mean())


def measure(seed: int, world: str = "steady", *, by_month: bool = True) -> Measured:
    """Forecast one fleet at the end of its record and look at what then happened."""
    fleet = make_fleet(FleetPlan(DOORS, DAYS, seed, world, future_days=FUTURE_DAYS))
    followed = follow(fleet, DAYS, by_month=by_month)
    now = fleet.first_day + DAYS
    calibration = calibrate(followed.series, followed.history, now, followed.calendar)
    usage = usage_at(
        now,
        followed.series,
        followed.history,
        followed.calendar,
        prior=followed.prior,
        calibration=calibration,
    )
    door = np.flatnonzero(
        (np.diff(followed.series.offsets) >= 3) & (fleet.end_day > DAYS) & (usage.basis == 0)
    )
    phase = np.random.default_rng(seed).uniform(0, INTERVAL_CYCLES, len(door))
    done = usage.last_cycles[door] - phase
    tasks = Tasks(
        door, done, np.full(len(door), now), *_intervals(len(door)), np.full(len(door), np.nan)
    )
    answer = due(
        now, tasks, usage, followed.calendar, calibration=calibration, within_days=WITHIN_DAYS
    )
    truth = fleet.day_reached(door, done + INTERVAL_CYCLES)
    said = np.clip(answer.due_day_by_cycles, now, now + CAP_DAYS)
    naive = np.clip(_by_last_two(followed, door, done + INTERVAL_CYCLES), now, now + CAP_DAYS)
    seen = np.minimum(truth, now + CAP_DAYS)
    ahead = truth > now
    late = np.where(answer.beyond_horizon, np.inf, answer.due_day_late)
    ran = (fleet.cycles[:, DAYS + RATE_DAYS] - fleet.cycles[:, DAYS]) / RATE_DAYS
    ran = (ran / _month_counts(followed, now))[door]
    return Measured(
        error=np.abs(said - seen)[ahead],
        naive_error=np.abs(naive - seen)[ahead],
        held=((answer.due_day_early <= truth) & (truth <= late))[ahead].astype(float),
        rate_held=((usage.lower[door] <= ran) & (ran <= usage.upper[door])).astype(float),
        chance=answer.probability_within[ahead],
        within=(truth <= now + WITHIN_DAYS)[ahead].astype(float),
    )


def _month_counts(followed: Followed, now: float) -> Floats:
    """What a day of the next month counts on each door: its rate is that of an ordinary day."""
    ahead = followed.calendar.season_ahead(now, np.array([float(RATE_DAYS)]))[:, 0]
    return np.asarray(ahead[followed.calendar.class_of_door] / RATE_DAYS)


def _intervals(count: int) -> tuple[Floats, Floats]:
    return np.full(count, INTERVAL_CYCLES), np.full(count, np.nan)


def _by_last_two(followed: Followed, door: np.ndarray, due_cycles: Floats) -> Floats:
    """The date that the last two readings, drawn on as a straight line, give."""
    series = followed.series
    last = series.offsets[door + 1] - 1
    per_day = (series.cycles[last] - series.cycles[last - 1]) / (
        series.day[last] - series.day[last - 1]
    )
    left = due_cycles - series.cycles[last]
    return series.day[last] + left / np.maximum(per_day, 1e-3)


def _gap(chance: Floats, within: Floats) -> float:
    """Mean distance of what was said from what happened, over five bands of the chance."""
    band = np.minimum((chance * 5).astype(int), 4)
    gaps = [
        abs(chance[band == k].mean() - within[band == k].mean()) * (band == k).mean()
        for k in range(5)
        if (band == k).any()
    ]
    return float(np.sum(gaps))
