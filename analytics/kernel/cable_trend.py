"""Resistance of a coil cable over the door's cycles: does it rise, and when is it at its limit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from analytics.kernel.lifetimes import NotEstimableError

FloatArray = NDArray[np.float64]

COPPER_PER_KELVIN, REFERENCE_CELSIUS = 0.00393, 20.0
LEAST_SHARE_OF_USUAL_CURRENT = 0.6
FEWEST_POINTS, TREND_Z = 6, 1.645
POINTS_AS_NEW = 3
# From a budget of the voltage drop, no maker's figure known; a door type may set its own.
WATCH_FACTOR, ACT_FACTOR = 1.3, 1.6
ACT_SHARE_OF_VOLTS = 0.10
SUDDEN_RISE = 0.25


@dataclass(frozen=True)
class CableLimits:
    """Factors on the as-new resistance, the share of the board's volts, and a sudden rise."""

    watch_factor: float = WATCH_FACTOR
    act_factor: float = ACT_FACTOR
    share_of_volts: float = ACT_SHARE_OF_VOLTS
    sudden_rise: float = SUDDEN_RISE


DEFAULT_CABLE_LIMITS = CableLimits()


class CableState(IntEnum):
    """How the last measurement stands to the limits."""

    HOLDS = 0
    WATCH = 1
    ACT = 2
    SUDDEN = 3


@dataclass(frozen=True)
class CableTrend:
    """Line through resistances; see `fit_cable_trend`. Crossings None where not reached."""

    points: int
    slope_ohm_per_cycle: float
    slope_lower: float
    slope_upper: float
    mann_kendall_z: float
    middle_cycles: float
    middle_ohm: float
    rises: bool
    crossing_cycles: float | None
    crossing_lower_cycles: float | None
    crossing_upper_cycles: float | None
    reason: str

    def ohm_at(self, cycles: float) -> float:
        """Resistance on the line at these cycles."""
        return self.middle_ohm + self.slope_ohm_per_cycle * (cycles - self.middle_cycles)


@dataclass(frozen=True, eq=False)
class CableFound:
    """What one run of measurements between two cable changes says; see `assess_cable`."""

    used: NDArray[np.bool_]
    ohm: FloatArray
    as_new_ohm: float
    act_ohm: float
    state: CableState
    trend: CableTrend | None
    reason: str


def corrected_resistance(
    drop_volts: ArrayLike, current_amps: ArrayLike, celsius: ArrayLike
) -> FloatArray:
    """Resistance of the cable, brought to 20 degrees.

    Parameters
    ----------
    drop_volts : array_like, shape (n,), volts, >= 0
        Board output minus voltage at the motor, both under load at the same moment; the mean of
        three samples while the door runs, not of the inrush.
    current_amps : array_like, shape (n,), amperes, > 0
        Motor current at that moment.
    celsius : array_like, shape (n,), degrees, above -60
        Temperature of the cable; nan = not noted, taken as 20.

    Returns
    -------
    ndarray, shape (n,), ohm

    Raises
    ------
    ValueError
        If a drop is negative, a current not above 0, or a temperature below -60.

    Notes
    -----
    drop / current / (1 + 0.00393 (T - 20)), the temperature coefficient of copper.

    References
    ----------
    IEC 60028, standard of resistance for copper (0.00393 per kelvin at 20 degrees; recalled).

    Examples
    --------
    >>> corrected_resistance([1.5], [10.0], [20.0]).tolist()
    [0.15]
    """
    drop, current, heat = (
        np.atleast_1d(np.asarray(values, dtype=float))
        for values in (drop_volts, current_amps, celsius)
    )
    if not (drop >= 0).all():
        raise ValueError(f"a voltage drop must be 0 or more, got {np.min(drop):g}")
    if not (current > 0).all():
        raise ValueError(f"a current must be above 0, got {np.min(current):g}")
    warm = np.where(np.isnan(heat), REFERENCE_CELSIUS, heat)
    if not (warm > -60).all():
        raise ValueError(f"a temperature must be above -60 degrees, got {np.min(warm):g}")
    factor = 1 + COPPER_PER_KELVIN * (warm - REFERENCE_CELSIUS)
    return np.asarray(drop / current / factor)


def fit_cable_trend(
    cycles: ArrayLike, ohm: ArrayLike, limit_ohm: float, confidence: float = 0.9
) -> CableTrend:
    """Draw the line through resistances that single wild points hardly move.

    Parameters
    ----------
    cycles : array_like, shape (n,), cycles
        Door cycles at each measurement, all since the last change of the cable.
    ohm : array_like, shape (n,), ohm, > 0
        Corrected resistance.
    limit_ohm : float, ohm, > 0
        Resistance whose crossing is asked for.
    confidence : float, in (0, 1)
        Of the ranges of slope and crossing.

    Returns
    -------
    CableTrend
        `rises` only from 6 points on and with a Mann-Kendall Z above 1.645; only then are there
        crossings, and `reason` says why not. An upper end None is open.

    Raises
    ------
    NotEstimableError
        If fewer than three points lie at different cycles.
    ValueError
        If lengths differ, a value is not finite, or the limit or the confidence is out of range.

    Notes
    -----
    Theil-Sen: the slope is the median of all pairwise slopes, its range between the ranks that
    Kendall's variance n(n-1)(2n+5)/18 gives; the level is the median of what is left at the
    middle of the points. A crossing lies at middle + (limit - level)/slope. Close to the middle
    of the points the lines of both outer slopes can lie on one side of the best one; the range is
    then drawn out to the best crossing.

    References
    ----------
    Sen (1968), J. Am. Stat. Assoc. 63, 1379; Mann (1945); Kendall (1975).

    Examples
    --------
    >>> fit_cable_trend([0, 100, 200, 300, 400, 500], [10, 11, 12, 13, 14, 15], 20).crossing_cycles
    1000.0
    """
    x, r = _checked(cycles, ohm, limit_ohm, confidence)
    first, second = np.triu_indices(len(x), 1)
    apart = x[second] != x[first]
    slopes = np.sort((r[second] - r[first])[apart] / (x[second] - x[first])[apart])
    if len(slopes) < POINTS_AS_NEW:
        raise NotEstimableError("A trend needs measurements at three different cycles at least.")
    middle = float(np.median(x))
    lines = [
        (slope, float(np.median(r - slope * (x - middle))))
        for slope in (float(np.median(slopes)), *_slope_range(slopes, len(x), confidence))
    ]
    z = _mann_kendall(x, r)
    rises = len(x) >= FEWEST_POINTS and z > TREND_Z and lines[0][0] > 0
    reach = [_crossing(middle, level, slope, limit_ohm) for slope, level in lines]
    best = reach[0] if rises else None
    early, late = _range_of(reach) if rises else (None, None)
    return CableTrend(
        points=len(x),
        slope_ohm_per_cycle=lines[0][0],
        slope_lower=lines[1][0],
        slope_upper=lines[2][0],
        mann_kendall_z=z,
        middle_cycles=middle,
        middle_ohm=lines[0][1],
        rises=rises,
        crossing_cycles=best,
        crossing_lower_cycles=early,
        crossing_upper_cycles=late,
        reason=_why_no_trend(len(x), rises=rises),
    )


def assess_cable(
    cycles: ArrayLike,
    drop_volts: ArrayLike,
    current_amps: ArrayLike,
    celsius: ArrayLike,
    board_volts: float,
    *,
    limits: CableLimits = DEFAULT_CABLE_LIMITS,
) -> CableFound:
    """Judge one cable by its measurements since it was fitted or re-coiled.

    Parameters
    ----------
    cycles, drop_volts, current_amps, celsius : array_like, shape (n,), n >= 1
        As in `corrected_resistance`, oldest first.
    board_volts : float, volts, > 0
        Output of the control board.
    limits : CableLimits
        Of the door type.

    Returns
    -------
    CableFound
        `used`: at 60 % of the usual current or more. `act_ohm`: the lower of 1.6 times as new and
        the resistance that takes 10 % of the board's volts at the usual current. `state` SUDDEN
        (a joint or a connector, not wear) comes before ACT and WATCH.

    Raises
    ------
    NotEstimableError
        If no measurement was taken at a usual current.
    ValueError
        As in `corrected_resistance`, or if the board's voltage is not above 0.

    Notes
    -----
    As new is the median of the first three measurements used. The usual current is the median.
    """
    if not board_volts > 0:
        raise ValueError(f"the board's output must be above 0 volts, got {board_volts:g}")
    every = corrected_resistance(drop_volts, current_amps, celsius)
    current = np.atleast_1d(np.asarray(current_amps, dtype=float))
    if not len(current):
        raise NotEstimableError("No voltage drop has been measured on this cable.")
    usual = float(np.median(current))
    used = current >= LEAST_SHARE_OF_USUAL_CURRENT * usual
    x, ohm = np.atleast_1d(np.asarray(cycles, dtype=float))[used], every[used]
    as_new = float(np.median(ohm[:POINTS_AS_NEW]))
    act = min(limits.act_factor * as_new, limits.share_of_volts * board_volts / usual)
    trend, reason = None, ""
    try:
        trend = fit_cable_trend(x, ohm, act)
        reason = trend.reason
    except NotEstimableError as problem:
        reason = str(problem)
    return CableFound(used, every, as_new, act, _state(ohm, as_new, act, limits), trend, reason)


def _state(ohm: FloatArray, as_new: float, act: float, limits: CableLimits) -> CableState:
    last = float(ohm[-1])
    if len(ohm) > 1 and last > (1 + limits.sudden_rise) * float(ohm[-2]):
        return CableState.SUDDEN
    if last >= act:
        return CableState.ACT
    return CableState.WATCH if last >= limits.watch_factor * as_new else CableState.HOLDS


def _why_no_trend(points: int, *, rises: bool) -> str:
    if rises:
        return ""
    if points < FEWEST_POINTS:
        return f"{points} measurements are too few to speak of a trend; it takes {FEWEST_POINTS}."
    return "The resistance does not clearly rise with cycles."


def _slope_range(slopes: FloatArray, points: int, confidence: float) -> tuple[float, float]:
    """Slopes at the ranks between which the true one lies with this confidence."""
    spread = np.sqrt(points * (points - 1) * (2 * points + 5) / 18)
    away = float(ndtri((1 + confidence) / 2)) * spread
    low = max(int(np.floor((len(slopes) - away) / 2)) - 1, 0)
    high = min(int(np.ceil((len(slopes) + away) / 2)), len(slopes) - 1)
    return float(slopes[low]), float(slopes[high])


def _mann_kendall(x: FloatArray, r: FloatArray) -> float:
    """Z of the concordance of resistance with cycles, ties of either counted as none."""
    first, second = np.triu_indices(len(x), 1)
    score = float((np.sign(x[second] - x[first]) * np.sign(r[second] - r[first])).sum())
    n = len(x)
    ties = sum(
        float((count * (count - 1) * (2 * count + 5)).sum())
        for count in (np.unique(values, return_counts=True)[1] for values in (x, r))
    )
    variance = max((n * (n - 1) * (2 * n + 5) - ties) / 18, 0.0)
    return float((score - np.sign(score)) / np.sqrt(variance)) if variance else 0.0


def _crossing(middle: float, level: float, slope: float, limit: float) -> float | None:
    return middle + (limit - level) / slope if slope > 0 else None


def _range_of(reach: list[float | None]) -> tuple[float | None, float | None]:
    """Earliest and latest of the best, the flattest and the steepest line's crossings.

    Without an end where the flattest line never crosses.
    """
    known = [each for each in reach if each is not None]
    return min(known, default=None), None if reach[1] is None else max(known)


def _checked(
    cycles: ArrayLike, ohm: ArrayLike, limit_ohm: float, confidence: float
) -> tuple[FloatArray, FloatArray]:
    x, r = (np.atleast_1d(np.asarray(values, dtype=float)) for values in (cycles, ohm))
    if x.shape != r.shape:
        raise ValueError(f"{x.shape} cycles do not match {r.shape} resistances")
    if not (np.isfinite(x).all() and np.isfinite(r).all() and (r > 0).all()):
        raise ValueError("cycles must be finite and resistances above 0")
    if not limit_ohm > 0:
        raise ValueError(f"the limit must be above 0 ohm, got {limit_ohm:g}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence:g}")
    return x, r
