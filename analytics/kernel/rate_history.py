"""Each door's usage rate after every accepted reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Calendar, Floats, Ints
from analytics.kernel.exposure import Series
from analytics.kernel.rate_filter import (
    LEAST_EFFECTIVE_DAYS,
    FilterSettings,
    Rate,
    predict,
    update,
)

USAGE_FILTER = FilterSettings(half_life_days=250.0, noise=0.02, dispersion=4.0, clip_sd=np.inf)


# Counts of a day or two tell how they scatter about the rate; longer ones how the rate drifts.
_LONGEST_SHORT_DAYS, _STEPS_BEFORE = 2.0, 4
_FEWEST_SHORT_STEPS = 200
LEAST_DISPERSION, MOST_DISPERSION = 1.0, 10.0
_CHI_SQUARE_MEDIAN = 0.454936


@dataclass(frozen=True)
class RateHistory:
    """The rate known at every point of a series.

    Parameters
    ----------
    log_rate : (m,) log cycles per effective day
    variance : (m,) variance of it
    steps : (m,) int64, steps the rate was learned from so far
    effective : (m,) effective days at the point, for differences
    """

    log_rate: Floats
    variance: Floats
    steps: Ints
    effective: Floats


class _Learner:
    """Running rate of all doors, in descending order of their points."""

    def __init__(self, series: Series, calendar: Calendar, prior: Rate) -> None:
        counts = np.diff(series.offsets)
        order = np.argsort(-counts, kind="stable")
        self.series, self.counts = series, counts[order]
        self.start = series.offsets[:-1][order]
        self.prior = Rate(prior.log_rate[order], prior.variance[order])
        self.effective = calendar.elapsed(series.door(), series.day)
        self.log_rate, self.variance = self.prior.log_rate.copy(), self.prior.variance.copy()
        self.day, self.at, self.cycles = np.zeros((3, len(counts)))
        self.steps = np.zeros(len(counts), np.int64)
        m = len(series.day)
        self.history = RateHistory(np.empty(m), np.empty(m), np.zeros(m, np.int64), self.effective)

    def step(self, k: int, m: int, settings: FilterSettings) -> None:
        """Learn from the k-th point of the first m doors."""
        row = self.start[:m] + k
        day, effective = self.series.day[row], self.effective[row]
        cycles = self.series.cycles[row]
        if k == 0:
            self.day[:m] = day
        forecast = predict(
            Rate(self.log_rate[:m], self.variance[:m]),
            Rate(self.prior.log_rate[:m], self.prior.variance[:m]),
            day - self.day[:m],
            settings,
        )
        fresh = ~self.series.counted[row] if k else np.ones(m, bool)
        waited = effective - self.at[:m]
        learn = ~fresh & (waited >= LEAST_EFFECTIVE_DAYS)
        learned = update(
            forecast,
            np.maximum(cycles - self.cycles[:m], 0.0),
            np.maximum(waited, LEAST_EFFECTIVE_DAYS),
            settings,
        )
        log_rate = np.where(learn, learned.log_rate, forecast.log_rate)
        variance = np.where(learn, learned.variance, forecast.variance)
        self.steps[:m] += learn
        self.history.log_rate[row], self.history.variance[row] = log_rate, variance
        self.history.steps[row] = self.steps[:m]
        moved = learn | fresh
        for column, now in (
            (self.log_rate, log_rate),
            (self.variance, variance),
            (self.day, day),
            (self.at, effective),
            (self.cycles, cycles),
        ):
            np.copyto(column[:m], now, where=moved)


def filter_rates(
    series: Series, calendar: Calendar, prior: Rate, settings: FilterSettings = USAGE_FILTER
) -> RateHistory:
    """Learn every door's rate, one accepted reading after the other.

    Parameters
    ----------
    series : Series of n doors
    calendar : Calendar of the same doors
    prior : Rate of similar doors, (n,)
    settings : FilterSettings

    Returns
    -------
    RateHistory of the series' points

    Notes
    -----
    A door's rate starts at that of similar doors and is pulled back to it with the settings' half
    life. Steps that were estimated rather than counted teach nothing; steps shorter than half an
    effective day wait for the next reading.
    """
    learner = _Learner(series, calendar, prior)
    most = int(learner.counts[0]) if len(learner.counts) else 0
    active = np.searchsorted(-learner.counts, -np.arange(most), side="left")
    for k in range(most):
        learner.step(k, int(active[k]), settings)
    return learner.history


def estimate_dispersion(
    series: Series, history: RateHistory, settings: FilterSettings = USAGE_FILTER
) -> float:
    """Estimate by how much counts of short steps scatter more than chance alone.

    Parameters
    ----------
    series : Series
    history : RateHistory of it
    settings : FilterSettings it was followed by

    Returns
    -------
    Variance over mean, in 1..10; that of the settings with fewer than 200 short steps

    Notes
    -----
    Of steps of half to two effective days, y counted and mu expected from the rate before, the
    squares (y - mu)^2 / mu have the mean phi + mu (P + q): dispersion, and what the rate was not
    known or wanders by. phi is chosen so that their median over it is that of a chi-square, 0.455:
    a slip of a counter cannot move it. Not chosen by the error of forecasts, which prefers far too
    large a value.
    """
    door = series.door()
    rows = np.flatnonzero((door[1:] == door[:-1]) & series.counted[1:]) + 1
    days = history.effective[rows] - history.effective[rows - 1]
    short = (days >= LEAST_EFFECTIVE_DAYS) & (days <= _LONGEST_SHORT_DAYS)
    rows, days = rows[short], days[short]
    known = history.steps[rows - 1] >= _STEPS_BEFORE
    rows, days = rows[known], days[known]
    if len(rows) < _FEWEST_SHORT_STEPS:
        return settings.dispersion
    mean = np.maximum(np.exp(history.log_rate[rows - 1]) * days, 0.5)
    square = (series.cycles[rows] - series.cycles[rows - 1] - mean) ** 2 / mean
    unknown = mean * (history.variance[rows - 1] + settings.noise)
    low, high = LEAST_DISPERSION, MOST_DISPERSION
    for _ in range(40):
        tried = (low + high) / 2
        too_small = np.median(square / (tried + unknown)) > _CHI_SQUARE_MEDIAN
        low, high = (tried, high) if too_small else (low, tried)
    return float((low + high) / 2)
