"""Replacements to expect when a part is renewed at every failure (Weibull renewal function)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import map_coordinates
from scipy.special import gamma

FloatArray = NDArray[np.float64]

# The table is in units of the scale: horizons to 3, ages to 4, shapes from 0.4 to 9. The step of
# 0.01 keeps the renewal function within 0.1 % for every shape in it.
STEP, LONGEST_HORIZON, OLDEST_AGE, AGE_POINTS = 0.01, 3.0, 4.0, 81
TABLE_SHAPES = np.geomspace(0.4, 9.0, 25)


@dataclass(frozen=True, eq=False)
class RenewalTable:
    """Second and later replacements for one shape: `later` (ages, horizons), even steps."""

    shape: float
    later: FloatArray


def renewal_function(horizon: ArrayLike, shape: float) -> FloatArray:
    """Expected replacements of a socket that starts with a new part.

    Parameters
    ----------
    horizon : array_like, any shape, in units of the scale, >= 0
        Cycles to be run divided by the Weibull scale.
    shape : float, > 0
        Weibull shape.

    Returns
    -------
    ndarray
        M(horizon), expected count, same shape as horizon.

    Raises
    ------
    ValueError
        If shape is not above 0 or a horizon is negative.

    Notes
    -----
    Solves M(y) = F(y) + integral of M(y-u) dF(u) by the midpoint recursion up to 3 scales and
    continues with the slope 1/mean life beyond, where the memory of the start has faded for
    shapes up to about 3 (above, the true curve still swings by a few hundredths).

    References
    ----------
    Xie (1989), On the solution of renewal-type integral equations.

    Examples
    --------
    >>> round(float(renewal_function(2.0, 1.0)), 4)
    2.0
    """
    if not shape > 0:
        raise ValueError(f"shape must be above 0, got {shape:g}")
    length = np.asarray(horizon, dtype=float)
    if (length < 0).any():
        raise ValueError(f"a horizon must not be negative, got {length.min():g}")
    steps = np.arange(round(LONGEST_HORIZON / STEP) + 1) * STEP
    curve = PchipInterpolator(steps, _renewals_from_new(shape))
    inside = curve(np.minimum(length, LONGEST_HORIZON))
    return inside + np.maximum(length - LONGEST_HORIZON, 0) / gamma(1 + 1 / shape)


def expected_replacements(
    age_cycles: ArrayLike, further_cycles: ArrayLike, shape: float, scale_cycles: float
) -> FloatArray:
    """Replacements of a socket whose part has a known age, over further cycles.

    Parameters
    ----------
    age_cycles, further_cycles : array_like, cycles, >= 0
        Age of the present part, and cycles to be run; they broadcast together.
    shape : float, > 0
        Weibull shape.
    scale_cycles : float, cycles, > 0
        Weibull scale.

    Returns
    -------
    ndarray
        Expected count of the broadcast shape: chance of a first failure, exact, plus later
        ones from a table.

    Raises
    ------
    ValueError
        If shape or scale is not above 0, or cycles are negative.

    Notes
    -----
    m(x, y) = F_x(y) + integral of M(y-u) dF_x(u) with x = age/scale, y = further/scale and F_x
    the chance of failure of a part of age x. Only the integral is interpolated: it is small and
    smooth where F_x is not.

    Examples
    --------
    >>> round(float(expected_replacements(0, 20_000, 1.0, 40_000)), 3)
    0.5
    """
    if not (shape > 0 and scale_cycles > 0):
        raise ValueError(f"shape and scale must be above 0, got {shape:g} and {scale_cycles:g}")
    x = np.asarray(age_cycles, dtype=float) / scale_cycles
    y = np.asarray(further_cycles, dtype=float) / scale_cycles
    if (x < 0).any() or (y < 0).any():
        raise ValueError("ages and further cycles must not be negative")
    first = -np.expm1(x**shape - (x + y) ** shape)
    return first + later_replacements(renewal_table(shape), x, y)


def renewal_table(shape: float) -> RenewalTable:
    """Table of later replacements at a shape, between the two nearest shapes tabulated.

    Parameters
    ----------
    shape : float, > 0
        Weibull shape; taken as 0.4 or 9 outside that range.

    Returns
    -------
    RenewalTable
        `later` (81, 301): rows ages 0 to 4 scales, columns horizons 0 to 3 scales.
    """
    tables = _tables()
    inside = np.clip(shape, TABLE_SHAPES[0], TABLE_SHAPES[-1])
    at = np.interp(np.log(inside), np.log(TABLE_SHAPES), np.arange(len(TABLE_SHAPES)))
    low = min(int(at), len(TABLE_SHAPES) - 2)
    part = at - low
    return RenewalTable(float(shape), (1 - part) * tables[low] + part * tables[low + 1])


def later_replacements(table: RenewalTable, age: ArrayLike, further: ArrayLike) -> FloatArray:
    """Second and later replacements, read from a table.

    Parameters
    ----------
    table : RenewalTable
        Table of the shape.
    age, further : array_like, in units of the scale, >= 0
        Age and horizon; they broadcast together.

    Returns
    -------
    ndarray
        Expected count beyond the first, of the broadcast shape.
    """
    x, y = np.broadcast_arrays(np.asarray(age, dtype=float), np.asarray(further, dtype=float))
    at_age = np.minimum(x, OLDEST_AGE) * ((AGE_POINTS - 1) / OLDEST_AGE)
    at_horizon = np.minimum(y, LONGEST_HORIZON) / STEP
    inside = map_coordinates(table.later, [at_age.ravel(), at_horizon.ravel()], order=1)
    beyond = np.maximum(y - LONGEST_HORIZON, 0) / gamma(1 + 1 / table.shape)
    return inside.reshape(x.shape) + beyond


def _renewals_from_new(shape: float) -> FloatArray:
    """M at every step by the midpoint recursion."""
    steps = round(LONGEST_HORIZON / STEP)
    failed = -np.expm1(-((np.arange(steps + 1) * STEP) ** shape))
    middle = -np.expm1(-(((np.arange(steps) + 0.5) * STEP) ** shape))
    renewals = np.zeros(steps + 1)
    added = np.zeros(steps)
    for i in range(1, steps + 1):
        past = middle[i - 1 : 0 : -1] @ added[: i - 1]
        renewals[i] = (failed[i] + past - middle[0] * renewals[i - 1]) / (1 - middle[0])
        added[i - 1] = renewals[i] - renewals[i - 1]
    return renewals


@lru_cache(maxsize=1)
def _tables() -> FloatArray:
    """Later replacements, shape (shapes, ages, horizons); about 0.1 s, once per process."""
    steps = round(LONGEST_HORIZON / STEP)
    ages = np.linspace(0, OLDEST_AGE, AGE_POINTS)[:, None]
    edges = np.arange(steps + 1) * STEP
    since = np.arange(steps + 1)[None, :] - np.arange(steps)[:, None]
    tables = np.empty((len(TABLE_SHAPES), AGE_POINTS, steps + 1))
    for index, shape in enumerate(TABLE_SHAPES):
        first = -np.expm1(ages**shape - (ages + edges) ** shape)
        renewals = _renewals_from_new(float(shape))
        # The failure lies mid-step, so the renewals after it are those half a step further on.
        halves = np.concatenate([[0.0, renewals[1] / 2], (renewals[1:-1] + renewals[2:]) / 2])
        tables[index] = np.diff(first, axis=1) @ np.where(
            since > 0, halves[np.maximum(since, 0)], 0
        )
    return tables
