"""How much faster or slower parts fail than their ages say, learned from past weeks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincc, gammaincinv, gammaln

FloatArray = NDArray[np.float64]

WEEKLY_MEMORY = 0.975
# Before any week is seen: either parts fail as their age says, within a few per cent, or nobody
# knows; both equally likely. Weights in failures.
LARGEST_PRIOR_WEIGHTS = np.array([1000.0, 30.0])
DISPERSION_WEIGHT = 20.0
MUCH_FASTER, SURE_ENOUGH = 1.25, 0.9
LEAST_CHANCE_SHARE = 0.7
ROUNDS = 20
RANGE_ENDS = (0.05, 0.95)


@dataclass(frozen=True)
class DemandCalibration:
    """Learned factor on the forecast; see `learn_calibration` for every field."""

    factor: float
    weight: float
    dispersion: float
    chance_much_faster: float
    alert: bool
    weeks: int

    @property
    def lower(self) -> float:
        """Lower end of the 90 % range of the factor."""
        return self._quantile(RANGE_ENDS[0])

    @property
    def upper(self) -> float:
        """Upper end of the 90 % range of the factor."""
        return self._quantile(RANGE_ENDS[1])

    def _quantile(self, probability: float) -> float:
        return float(gammaincinv(self.weight, probability)) * self.factor / self.weight


@dataclass(frozen=True, eq=False)
class CalibratedDemand:
    """Mean and variance of demand after calibration, of the shape of the forecast."""

    mean: FloatArray
    variance: FloatArray


def learn_calibration(
    forecast: ArrayLike, actual: ArrayLike, relative_variance: float
) -> DemandCalibration:
    """Learn the factor between one-week-ahead forecasts and what was then replaced.

    Parameters
    ----------
    forecast : array_like, shape (w,), pieces per week, >= 0
        Forecast for each past week made before it, oldest first.
    actual : array_like, shape (w,), pieces per week, >= 0
        Replacements in the same weeks.
    relative_variance : float, >= 0
        Variance of the forecast over the draws of the life, divided by its mean squared: how
        little the life itself is known.

    Returns
    -------
    DemandCalibration
        `factor` (1.18: parts fail 1.18 times as often as their age says), its gamma `weight`
        in failures (`lower`, `upper`: 90 %), the `dispersion` of weekly counts (1 = by chance),
        `chance_much_faster`: chance that the factor exceeds 1.25, `alert` when that is above
        0.9, and the number of `weeks`.

    Raises
    ------
    ValueError
        If lengths differ or a value is negative or not finite.

    Notes
    -----
    Weeks fade by 0.975 each. Before any is seen the factor is 1 with a gamma weight of either
    1,000 or 30 failures, equally likely, neither more than 1/relative_variance; the weeks decide
    between the two by their likelihood, and the mixture's mean and variance are given. Dispersion
    and factor are settled in turns. A single weight either costs accuracy where nothing is amiss
    or follows too slowly where the life model is wrong.

    Examples
    --------
    >>> found = learn_calibration([10.0] * 40, [15] * 40, 0.05)
    >>> round(found.factor, 2), found.alert
    (1.46, True)
    """
    f, y = (np.atleast_1d(np.asarray(values, dtype=float)) for values in (forecast, actual))
    _check(f, y, relative_variance)
    fade = WEEKLY_MEMORY ** np.arange(len(f))[::-1]
    seen, awaited = float(fade @ y), float(fade @ f)
    start = np.minimum(LARGEST_PRIOR_WEIGHTS, 1 / max(relative_variance, 1e-12))
    counted = f > 0
    factor, dispersion = 1.0, 1.0
    for _ in range(ROUNDS):
        mean = factor * f[counted]
        misfit = float(((y[counted] - mean) ** 2 / mean).sum())
        size = DISPERSION_WEIGHT + counted.sum()
        dispersion = max(1.0, (DISPERSION_WEIGHT + misfit) / size)
        weight, rate = start + seen / dispersion, start + awaited / dispersion
        share = _shares(start, weight, rate)
        factor = float(share @ (weight / rate))
    variance = float(share @ (weight / rate**2 + (weight / rate - factor) ** 2))
    chance = float(share @ gammaincc(weight, MUCH_FASTER * rate))
    return DemandCalibration(
        factor, factor**2 / variance, dispersion, chance, chance > SURE_ENOUGH, len(f)
    )


def _shares(start: FloatArray, weight: FloatArray, rate: FloatArray) -> FloatArray:
    """How likely each starting weight is after the weeks seen: their gamma-Poisson likelihood."""
    fit = gammaln(weight) - gammaln(start) + start * np.log(start) - weight * np.log(rate)
    share = np.exp(fit - fit.max())
    return np.asarray(share / share.sum())


def calibrate_demand(
    calibration: DemandCalibration, mean: ArrayLike, chance_variance: ArrayLike
) -> CalibratedDemand:
    """Apply the learned factor to a forecast.

    Parameters
    ----------
    calibration : DemandCalibration
        Learned factor.
    mean : array_like, pieces, >= 0
        Forecast of `demand.forecast_base_demand`.
    chance_variance : array_like, pieces squared, >= 0
        Its variance by chance alone (mean of `within_by_draw` over the draws).

    Returns
    -------
    CalibratedDemand
        factor * mean, and dispersion * factor * mean * clip(chance/mean, 0.7, 1) + (factor *
        mean)^2/weight.

    Raises
    ------
    ValueError
        If a value is negative or not finite.
    """
    m, v = (np.asarray(values, dtype=float) for values in (mean, chance_variance))
    for name, values in (("mean", m), ("variance", v)):
        if not ((values >= 0) & np.isfinite(values)).all():
            raise ValueError(f"a {name} must be 0 or more and finite, got {values.min():g}")
    share = np.clip(v / np.where(m > 0, m, 1.0), LEAST_CHANCE_SHARE, 1.0)
    scaled = calibration.factor * m
    spread = calibration.dispersion * scaled * share + scaled**2 / calibration.weight
    return CalibratedDemand(scaled, np.asarray(spread))


def _check(f: FloatArray, y: FloatArray, relative_variance: float) -> None:
    if f.shape != y.shape:
        raise ValueError(f"{f.shape} forecasts do not match {y.shape} weeks")
    for name, values in (("forecast", f), ("actual", y)):
        if not ((values >= 0) & np.isfinite(values)).all():
            raise ValueError(f"the {name} must be 0 or more and finite, got {values.min():g}")
    if not relative_variance >= 0:
        raise ValueError(f"relative_variance must be 0 or more, got {relative_variance:g}")
