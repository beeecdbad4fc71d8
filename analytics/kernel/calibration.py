"""How wrong past usage forecasts were, so that today's interval says the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.stats import t as student

from analytics.kernel.effective_days import Calendar, Floats, Ints, Moment, door_key
from analytics.kernel.exposure import Series
from analytics.kernel.rate_history import RateHistory

ORIGINS_DAYS_AGO = (150.0, 225.0, 300.0, 375.0)
HORIZONS_DAYS = (25.0, 60.0, 110.0)
LONGEST_HORIZON_DAYS = 150.0
FEWEST_FORECASTS = 200
_MOST_FORECASTS = 20_000
_QUANTILES = 199
_TAIL_DEGREES = 4.0


def _levels(count: int) -> Floats:
    """Return the probabilities that so many quantiles stand for."""
    return np.arange(1.0, count + 1.0) / (count + 1.0)


@dataclass(frozen=True)
class Calibration:
    """The spread of log forecast errors.

    Parameters
    ----------
    rate_factor, horizon_factor, count_factor : g0, g1, g2 of `spread`, not negative
    quantile : (m,) evenly spaced quantiles of the studentised errors, ascending; the i-th is not
        exceeded with probability i / (m + 1)
    calibrated : whether they come from this fleet's own past forecasts
    forecasts : how many of these there were
    """

    rate_factor: float
    horizon_factor: float
    count_factor: float
    quantile: Floats
    calibrated: bool
    forecasts: int

    def spread(self, variance: Floats, effective_days: Floats, cycles: Floats) -> Floats:
        """Return the standard deviation of the log of a forecast count.

        Parameters
        ----------
        variance : (k,) of the log rate at the forecast's origin
        effective_days : (k,) horizon
        cycles : (k,) cycles forecast

        Returns
        -------
        (k,) at most 1.5

        Notes
        -----
        sqrt(g0 P + g1 E/100 + g2/mu + 1e-4).
        """
        total = (
            self.rate_factor * variance
            + self.horizon_factor * effective_days / 100.0
            + self.count_factor / np.maximum(cycles, 1.0)
            + 1e-4
        )
        return np.minimum(np.sqrt(total), 1.5)

    def error_at(self, probability: float) -> float:
        """Return the studentised error that is not exceeded with a probability."""
        return float(np.interp(probability, _levels(len(self.quantile)), self.quantile))

    def chance_below(self, error: Floats) -> Floats:
        """Return the probability that the studentised error stays below given values, (k,)."""
        low, high = self.quantile[0] - 1.0, self.quantile[-1] + 1.0
        return np.interp(
            error,
            np.concatenate(([low], self.quantile, [high])),
            np.concatenate(([0.0], _levels(len(self.quantile)), [1.0])),
        )


# A little wide on purpose: before any forecast of its own fleet has been tested, an interval that
# promises too little does less harm than one that promises too much.
UNCALIBRATED = Calibration(
    0.4, 0.02, 5.0, student.ppf(_levels(_QUANTILES), 6), calibrated=False, forecasts=0
)


@dataclass(frozen=True)
class PastForecasts:
    """Forecasts as they would have been made, and what then happened.

    Parameters
    ----------
    variance : (k,) of the log rate at the origin
    effective_days : (k,)
    forecast, actual : (k,) cycles
    """

    variance: Floats
    effective_days: Floats
    forecast: Floats
    actual: Floats

    @property
    def log_error(self) -> Floats:
        return np.log(np.maximum(self.actual, 0.5)) - np.log(np.maximum(self.forecast, 0.5))


def past_forecasts(
    series: Series, history: RateHistory, as_of_day: Moment, calendar: Calendar
) -> PastForecasts:
    """Repeat the forecasts of past days from what was known then.

    Parameters
    ----------
    series : Series with no point after ``as_of_day``
    history : RateHistory of it
    as_of_day : epoch day, one or (n,)
    calendar : Calendar of the same doors

    Returns
    -------
    PastForecasts

    Notes
    -----
    At each of four past origins every door's last point forecasts the cycles at the first reading
    at least 25, 60 and 110 days later, up to 150 days; at most 20,000 forecasts, evenly chosen.
    Days out of use after the origin were not known then and are not taken off.
    """
    keys = door_key(series.door(), series.day)
    uncounted = np.cumsum(~series.counted, dtype=np.int64)
    doors = np.arange(len(series.offsets) - 1)
    as_of = np.broadcast_to(np.asarray(as_of_day, float), len(doors))
    found, origins = [], []
    for ago in ORIGINS_DAYS_AGO:
        for horizon in HORIZONS_DAYS:
            pairs = _forecast_pairs(
                series, keys, uncounted, doors, origin=as_of - ago, horizon=horizon
            )
            found.append(pairs)
            origins.append(np.full(pairs.shape[1], ago))
    joined, since = np.concatenate(found, axis=1), np.concatenate(origins)
    every = max(1, -(-joined.shape[1] // _MOST_FORECASTS))
    start, end = joined[:, ::every]
    door = series.door()[start]
    effective = _as_foreseen(calendar, door, as_of[door] - since[::every], series.day[end])
    effective = effective - history.effective[start]
    effective = np.maximum(effective, 0.5)
    return PastForecasts(
        history.variance[start],
        effective,
        np.exp(history.log_rate[start]) * effective,
        series.cycles[end] - series.cycles[start],
    )


def _as_foreseen(calendar: Calendar, door: Ints, origin: Floats, end: Floats) -> Floats:
    """Effective days at the end of forecasts, as counted at their origins."""
    ahead = calendar.without_lay_ups(door, end) - calendar.without_lay_ups(door, origin)
    return np.asarray(calendar.elapsed(door, origin) + ahead)


def _forecast_pairs(
    series: Series, keys: Floats, uncounted: Ints, doors: Ints, *, origin: Floats, horizon: float
) -> Ints:
    """Return rows of origin points and of the readings they are held against, (2, k)."""
    last = len(keys) - 1
    if last < 0:
        return np.zeros((2, 0), np.int64)
    start = np.searchsorted(keys, door_key(doors, origin), side="right") - 1
    begun_by_then = start >= series.offsets[doors]
    doors, start, origin = doors[begun_by_then], start[begun_by_then], origin[begun_by_then]
    begun = series.day[start]
    end = np.minimum(np.searchsorted(keys, door_key(doors, begun + horizon)), last)
    good = (end < series.offsets[doors + 1]) & (series.day[end] > origin)
    good &= (series.day[end] - begun >= horizon) & (series.day[end] - begun <= LONGEST_HORIZON_DAYS)
    good &= uncounted[end] == uncounted[start]
    return np.stack((start[good], end[good]))


def calibrate(
    series: Series, history: RateHistory, as_of_day: Moment, calendar: Calendar
) -> Calibration:
    """Fit the spread of forecasts to this fleet's own past ones.

    Parameters
    ----------
    series : Series with no point after ``as_of_day``
    history : RateHistory of it
    as_of_day : epoch day, one or (n,)
    calendar : Calendar of the same doors

    Returns
    -------
    Calibration; `UNCALIBRATED` with fewer than 200 past forecasts

    Notes
    -----
    The three factors minimise the negative log-likelihood of errors that follow Student's t with 4
    degrees of freedom; the quantiles are then those of the errors themselves.
    """
    past = past_forecasts(series, history, as_of_day, calendar)
    count = len(past.actual)
    if count < FEWEST_FORECASTS:
        return UNCALIBRATED
    error = past.log_error

    def spread(factors: Floats) -> Floats:
        g0, g1, g2 = np.exp(np.clip(factors, -12.0, 6.0))
        return np.sqrt(
            g0 * past.variance
            + g1 * past.effective_days / 100.0
            + g2 / np.maximum(past.forecast, 1.0)
            + 1e-4
        )

    def loss(factors: Floats) -> float:
        scale = spread(factors)
        tail = np.log1p((error / scale) ** 2 / _TAIL_DEGREES)
        return float(np.mean(np.log(scale) + 0.5 * (_TAIL_DEGREES + 1.0) * tail))

    found = minimize(
        loss, np.log([0.5, 0.05, 4.0]), method="Nelder-Mead", options={"maxfev": 250}
    ).x
    g0, g1, g2 = (float(g) for g in np.exp(np.clip(found, -12.0, 6.0)))
    fitted = Calibration(g0, g1, g2, UNCALIBRATED.quantile, calibrated=True, forecasts=count)
    scale = fitted.spread(past.variance, past.effective_days, past.forecast)
    quantile = np.quantile(error / scale, _levels(_QUANTILES))
    return Calibration(g0, g1, g2, quantile, calibrated=True, forecasts=count)
