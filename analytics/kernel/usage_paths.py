"""Cycles of doors over the weeks ahead, drawn many times."""

from __future__ import annotations

import numpy as np

from analytics.kernel.effective_days import Floats
from analytics.kernel.rate_filter import FilterSettings, Rate, predict

WEEK_DAYS = 7.0
# Where months have no factor of their own, a year's ups and downs are allowed for: the log of all
# doors' use swings by so much (standard deviation) around what was learned of late; where they
# have, by so much less. Common practice, no source.
SEASON_SD, SEASON_LEFT_SD = 0.07, 0.025
_YEAR_WEEKS = 52.18
_LEARNED_WEEKS_AGO = 8.0
_LEAST_CYCLES = 1e-6


def draw_cycles(
    last_cycles: Floats,
    days_since: Floats,
    rate: Rate,
    prior: Rate,
    settings: FilterSettings,
    *,
    week_days: Floats,
    season_sd: Floats,
    draws: int,
    rng: np.random.Generator,
) -> Floats:
    """Draw the lifetime cycles of doors at the beginning of each week ahead.

    Parameters
    ----------
    last_cycles : (n,) lifetime cycles at the last point known
    days_since : (n,) effective days from that point to now, not negative
    rate : Rate, (n,), at that point
    prior : Rate, (n,), of similar doors
    settings : FilterSettings, those of the usage filter
    week_days : (n, w) effective days of each week ahead
    season_sd : (n,) of the log of use, for what is not known of the seasons
    draws : at least 1
    rng : numpy Generator

    Returns
    -------
    (draws, n, w + 1) lifetime cycles now and after each week, not falling

    Notes
    -----
    The usage filter's own model carried on: the log rate x of a week follows
    x' = m + d (x - m) + noise of variance (1 - d²) v with d = 0.5 ** (7 / half life), so that
    what sets a door apart is forgotten as the filter forgets it. A week's cycles are gamma
    distributed about exp(x) times its effective days, with the filter's dispersion. All doors of
    a draw share a wave of one year's length with random height and phase, 0 eight weeks ago, for
    what is not known of the seasons.
    """
    count, weeks = week_days.shape
    log_rate = rate.log_rate + np.sqrt(rate.variance) * rng.standard_normal((draws, count))
    now = last_cycles + np.exp(log_rate) * days_since
    # From the last point known to now the rate may have moved, as it may from now on.
    still = predict(Rate(log_rate, np.zeros_like(log_rate)), prior, days_since, settings)
    level = still.log_rate + np.sqrt(still.variance) * rng.standard_normal((draws, count))
    found = np.empty((weeks + 1, draws, count))
    found[0] = now
    week = np.full(count, WEEK_DAYS)
    season = _seasons(weeks, draws, rng)
    for k in range(weeks):
        swing = season_sd * season[k, :, None]
        mean = np.maximum(week_days[:, k] * np.exp(level + swing), _LEAST_CYCLES)
        ran = rng.standard_gamma(mean / settings.dispersion) * settings.dispersion
        found[k + 1] = found[k] + ran
        moved = predict(Rate(level, np.zeros_like(level)), prior, week, settings)
        level = moved.log_rate + np.sqrt(moved.variance) * rng.standard_normal((draws, count))
    return np.moveaxis(found, 0, 2)


def _seasons(weeks: int, draws: int, rng: np.random.Generator) -> Floats:
    """Waves of height 1 in the mean square, one for each draw, (weeks, draws)."""
    turn = 2 * np.pi / _YEAR_WEEKS
    week = np.arange(weeks)[:, None] + 0.5
    rising, falling = rng.standard_normal((2, draws))
    learned = -_LEARNED_WEEKS_AGO * turn
    return rising * (np.sin(turn * week) - np.sin(learned)) + falling * (
        np.cos(turn * week) - np.cos(learned)
    )
