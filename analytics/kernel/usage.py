"""How far each door's counter is today, and how fast it goes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from analytics.kernel.calibration import UNCALIBRATED, Calibration
from analytics.kernel.effective_days import Calendar, Floats, Ints, Moment
from analytics.kernel.exposure import Codes, Series
from analytics.kernel.rate_filter import Rate
from analytics.kernel.rate_history import RateHistory

STALE_DAYS = 120.0
RATE_HORIZON_DAYS = 30.0


class UsageBasis(IntEnum):
    """What a door's rate rests on."""

    OWN_READINGS = 0
    SIMILAR_DOORS = 1
    STALE = 2
    NONE = 3


@dataclass(frozen=True)
class Usage:
    """Usage of each door at one moment.

    Parameters
    ----------
    cycles_now : (n,) lifetime cycles carried forward to the moment; nan without any point
    cycles_per_day : (n,) mean over a week in service
    lower, upper : (n,) 80 % limits of the mean rate over the next 30 days
    last_read_day : (n,) epoch day of the last accepted reading; nan without one
    last_day, last_cycles : (n,) last point known, a reading or the record's beginning; nan if none
    log_rate, variance : (n,) log cycles per effective day at that point
    effective_since : (n,) effective days from that point to the moment
    steps : (n,) int64, steps between readings behind the rate
    basis : (n,) int8, see `UsageBasis`
    """

    cycles_now: Floats
    cycles_per_day: Floats
    lower: Floats
    upper: Floats
    last_read_day: Floats
    last_day: Floats
    last_cycles: Floats
    log_rate: Floats
    variance: Floats
    effective_since: Floats
    steps: Ints
    basis: Codes


def usage_at(
    as_of_day: Moment,
    series: Series,
    history: RateHistory,
    calendar: Calendar,
    *,
    prior: Rate,
    calibration: Calibration = UNCALIBRATED,
) -> Usage:
    """Carry every door forward to a moment.

    Parameters
    ----------
    as_of_day : epoch day, one or (n,)
    series : Series of n doors
    history : RateHistory of it
    calendar : Calendar of the same doors
    prior : Rate of similar doors, (n,), used where a door has no point
    calibration : Calibration

    Returns
    -------
    Usage

    Raises
    ------
    ValueError
        If a point lies after ``as_of_day``: what was not known then must not be passed in.

    Notes
    -----
    cycles_now = cycles at the last point + rate × effective days since. The rate is held at its
    last value. A rate is called stale when the last reading is more than 120 days old.
    """
    n = len(series.offsets) - 1
    as_of = np.broadcast_to(np.asarray(as_of_day, float), n)
    _refuse_later_points(series, as_of)
    some = np.flatnonzero(np.diff(series.offsets) > 0)
    row = series.offsets[some + 1] - 1
    columns = np.full((3, n), np.nan)
    last_day, last_cycles, last_read = columns
    log_rate, variance = prior.log_rate.copy(), prior.variance.copy()
    steps, since = np.zeros(n, np.int64), np.zeros(n)
    last_day[some], last_cycles[some] = series.day[row], series.cycles[row]
    # Within a door the beginning of the record is the first point, so the last is a reading or all.
    last_read[some] = np.where(series.read[row], series.day[row], np.nan)
    log_rate[some], variance[some] = history.log_rate[row], history.variance[row]
    steps[some] = history.steps[row]
    since[some] = np.maximum(calendar.elapsed(some, as_of[some]) - history.effective[row], 0.0)
    rate = np.exp(log_rate)
    spread = calibration.spread(variance, since + RATE_HORIZON_DAYS, rate * RATE_HORIZON_DAYS)
    return Usage(
        cycles_now=last_cycles + rate * since,
        cycles_per_day=rate,
        lower=rate * np.exp(calibration.error_at(0.1) * spread),
        upper=rate * np.exp(calibration.error_at(0.9) * spread),
        last_read_day=last_read,
        last_day=last_day,
        last_cycles=last_cycles,
        log_rate=log_rate,
        variance=variance,
        effective_since=since,
        steps=steps,
        basis=_basis(as_of, last_day, last_read, steps),
    )


def _refuse_later_points(series: Series, as_of: Floats) -> None:
    door = series.door()
    after = np.flatnonzero(series.day > as_of[door])
    if len(after):
        raise ValueError(
            f"No point may lie after the moment asked for, {as_of[door[after[0]]]}; "
            f"one is at {series.day[after[0]]}."
        )


def _basis(as_of: Floats, last_day: Floats, last_read: Floats, steps: Ints) -> Codes:
    return np.select(
        [np.isnan(last_day), as_of - last_read > STALE_DAYS, steps == 0],
        [UsageBasis.NONE, UsageBasis.STALE, UsageBasis.SIMILAR_DOORS],
        UsageBasis.OWN_READINGS,
    ).astype(np.int8)
