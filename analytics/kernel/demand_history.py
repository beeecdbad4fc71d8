"""Demand read from past use alone, for parts without a life model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.kernel.lifetimes import NotEstimableError

FloatArray = NDArray[np.float64]

WEEKS_IN_WINDOW = 52


@dataclass(frozen=True, eq=False)
class HistoryDemand:
    """Mean and variance of demand per part and horizon, (n, h), and the weeks they rest on."""

    horizon_weeks: FloatArray
    mean: FloatArray
    variance: FloatArray
    weeks: int


def flat_year_demand(weekly_demand: ArrayLike, horizon_weeks: ArrayLike) -> HistoryDemand:
    """Carry the average of the last 52 weeks forward, with its own uncertainty.

    Parameters
    ----------
    weekly_demand : array_like, shape (n, w) or (w,), pieces per week, >= 0
        Past use of each part, oldest week first; weeks without use are zeros.
    horizon_weeks : array_like, shape (h,), weeks, >= 0
        How far ahead.

    Returns
    -------
    HistoryDemand
        `mean` and `variance` (n, h) for `count_distribution.match_counts`; `weeks` used.

    Raises
    ------
    NotEstimableError
        If fewer than two weeks are recorded.
    ValueError
        If a demand or horizon is negative or not finite.

    Notes
    -----
    With average m and variance s2 of w weeks (s2 taken no lower than m, so that a part never
    used less evenly than by chance is not promised too sure a stock), H weeks need H m on
    average with variance H s2 + H^2 s2/w. In simulated fleets this flat rule did better than
    exponential smoothing, Croston, SBA and TSB except under a trend.

    Examples
    --------
    >>> found = flat_year_demand([1, 0, 2, 1], [4])
    >>> found.mean.tolist(), found.variance.tolist()
    ([[4.0]], [[8.0]])
    """
    history = np.atleast_2d(_not_negative(weekly_demand, "weekly demand"))
    horizons = np.atleast_1d(_not_negative(horizon_weeks, "a horizon"))
    window = history[:, -WEEKS_IN_WINDOW:]
    weeks = window.shape[1]
    if weeks < 2:
        raise NotEstimableError(f"Demand needs at least two weeks of history, got {weeks}.")
    average = window.mean(axis=1)
    spread = np.maximum(window.var(axis=1, ddof=1), average)
    mean = average[:, None] * horizons
    variance = spread[:, None] * (horizons + horizons**2 / weeks)
    return HistoryDemand(horizons, mean, variance, weeks)


def croston(demand: ArrayLike, size_constant: float, interval_constant: float) -> FloatArray:
    """Croston's smoothing of sizes and of the gaps between them, period by period.

    Parameters
    ----------
    demand : array_like, shape (w,) or (n, w), pieces per period, >= 0
        Past use, oldest first.
    size_constant, interval_constant : float, in (0, 1]
        Smoothing constants of the size and of the interval.

    Returns
    -------
    ndarray, shape (w + 1,) or (n, w + 1)
        Forecast for each period made before it, and one for the period after the last; nan
        until the first demand has been seen.

    Raises
    ------
    ValueError
        If a demand is negative or a constant outside (0, 1].

    Notes
    -----
    Starts from the first demand as size and its position (counted from 1) as interval; both are
    updated only in periods with demand. The forecast is too high by about half the interval
    constant: see `sba`.

    References
    ----------
    Croston (1972); Syntetos and Boylan (2005).

    Examples
    --------
    >>> croston([0, 0, 3, 0], 0.5, 0.2).tolist()
    [nan, nan, nan, 1.0, 1.0]
    """
    _check_constant(size_constant)
    _check_constant(interval_constant)
    rows = _not_negative(demand, "demand")
    series = np.atleast_2d(rows)
    size = np.full(len(series), np.nan)
    interval = np.full(len(series), np.nan)
    waited = np.zeros(len(series))
    path = np.full((len(series), series.shape[1] + 1), np.nan)
    for period, taken in enumerate(series.T):
        waited += 1
        used, first = taken > 0, np.isnan(size)
        size = np.where(used, np.where(first, taken, size + size_constant * (taken - size)), size)
        smoothed = np.where(first, waited, interval + interval_constant * (waited - interval))
        interval = np.where(used, smoothed, interval)
        waited[used] = 0
        path[:, period + 1] = size / interval
    return path.reshape(*rows.shape[:-1], -1)


def sba(demand: ArrayLike, size_constant: float, interval_constant: float) -> FloatArray:
    """Croston's forecast with the Syntetos-Boylan factor 1 - b/2.

    Parameters
    ----------
    demand, size_constant, interval_constant
        As in `croston`.

    Returns
    -------
    ndarray
        As in `croston`.

    Raises
    ------
    ValueError
        As in `croston`.

    Notes
    -----
    Too low where more than about 0.7 of the periods have demand.
    """
    return croston(demand, size_constant, interval_constant) * (1 - interval_constant / 2)


def tsb(demand: ArrayLike, size_constant: float, probability_constant: float) -> FloatArray:
    """Teunter-Syntetos-Babai smoothing: the chance of a demand falls in every idle period.

    Parameters
    ----------
    demand : array_like, shape (w,) or (n, w), pieces per period, >= 0
        Past use, oldest first.
    size_constant, probability_constant : float, in (0, 1]
        Smoothing constants of the size and of the chance of a demand.

    Returns
    -------
    ndarray, shape (w + 1,) or (n, w + 1)
        Forecast for each period made before it, and one for the period after the last; nan for
        a part never used.

    Raises
    ------
    ValueError
        If a demand is negative or a constant outside (0, 1].

    Notes
    -----
    Starts before the first period from the first demand as size and one over its position as
    chance; other starts are in use and give other figures for short series.

    References
    ----------
    Teunter, Syntetos and Babai (2011).

    Examples
    --------
    >>> tsb([0, 0, 3], 0.3, 0.1).round(3).tolist()
    [1.0, 0.9, 0.81, 1.029]
    """
    _check_constant(size_constant)
    _check_constant(probability_constant)
    rows = _not_negative(demand, "demand")
    series = np.atleast_2d(rows)
    used = series > 0
    first = used.argmax(axis=1)
    size = np.where(used.any(axis=1), series[np.arange(len(series)), first], np.nan)
    chance = 1.0 / (first + 1)
    path = np.empty((len(series), series.shape[1] + 1))
    path[:, 0] = size * chance
    for period, taken in enumerate(series.T):
        happened = taken > 0
        chance = chance + probability_constant * (happened - chance)
        size = np.where(happened, size + size_constant * (taken - size), size)
        path[:, period + 1] = size * chance
    return path.reshape(*rows.shape[:-1], -1)


def _check_constant(constant: float) -> None:
    if not 0 < constant <= 1:
        raise ValueError(f"a smoothing constant lies in (0, 1], got {constant:g}")


def _not_negative(values: ArrayLike, name: str) -> FloatArray:
    array = np.asarray(values, dtype=float)
    if not ((array >= 0) & np.isfinite(array)).all():
        raise ValueError(f"{name} must be 0 or more and finite, got {array.min():g}")
    return array
