"""One step of the usage filter: a door's log rate, pulled back to that of similar doors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.kernel.effective_days import Floats

LEAST_EFFECTIVE_DAYS = 0.5


@dataclass(frozen=True)
class FilterSettings:
    """How fast a rate is forgotten and how noisy counts are.

    Parameters
    ----------
    half_life_days : days after which half of what set a door apart is forgotten
    noise : variance of the log rate of one interval beyond counting noise
    dispersion : variance over mean of cycles counted in a short interval
    clip_sd : surprises are cut at so many standard deviations; inf cuts nothing
    """

    half_life_days: float
    noise: float
    dispersion: float
    clip_sd: float


@dataclass(frozen=True)
class Rate:
    """A door's log rate.

    Parameters
    ----------
    log_rate : (k,) log cycles per effective day
    variance : (k,) variance of it
    """

    log_rate: Floats
    variance: Floats


def predict(rate: Rate, prior: Rate, elapsed_days: Floats, settings: FilterSettings) -> Rate:
    """Carry a rate forward in time.

    Parameters
    ----------
    rate, prior : Rate, (k,)
    elapsed_days : (k,) calendar days since the rate was last updated, not negative
    settings : FilterSettings

    Returns
    -------
    Rate, (k,)

    Notes
    -----
    With d = 0.5**(elapsed / half life): x' = m + d (x - m), P' = d² P + (1 - d²) v, a random walk
    held by the class mean m and variance v.
    """
    keep = np.exp2(elapsed_days * (-1.0 / settings.half_life_days))
    kept = keep * keep
    return Rate(
        prior.log_rate + keep * (rate.log_rate - prior.log_rate),
        kept * rate.variance + (1.0 - kept) * prior.variance,
    )


def count_variance(expected_cycles: Floats, settings: FilterSettings) -> Floats:
    """Return the variance of the log of a count, given its mean.

    Parameters
    ----------
    expected_cycles : (k,) cycles
    settings : FilterSettings

    Returns
    -------
    (k,)
    """
    return settings.dispersion / np.maximum(expected_cycles, 0.5) + settings.noise


def update(
    forecast: Rate, cycles: Floats, effective_days: Floats, settings: FilterSettings
) -> Rate:
    """Learn from the cycles counted over an interval.

    Parameters
    ----------
    forecast : Rate, (k,), carried forward to the interval's end
    cycles : (k,) cycles counted, not negative
    effective_days : (k,) at least `LEAST_EFFECTIVE_DAYS`; the caller skips shorter ones
    settings : FilterSettings

    Returns
    -------
    Rate, (k,)

    Notes
    -----
    o = log((y + 0.5) / e) is seen with variance R = dispersion / mean count + noise; gain
    K = P / (P + R).
    """
    seen = np.log((cycles + 0.5) / effective_days)
    spread = count_variance(np.exp(forecast.log_rate) * effective_days, settings)
    total = forecast.variance + spread
    gain = forecast.variance / total
    surprise = seen - forecast.log_rate
    if np.isfinite(settings.clip_sd):
        limit = settings.clip_sd * np.sqrt(total)
        surprise = np.clip(surprise, -limit, limit)
    return Rate(forecast.log_rate + gain * surprise, (1.0 - gain) * forecast.variance)
