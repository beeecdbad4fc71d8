"""How often to look for a defect that shows some time before it fails (delay time)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize_scalar
from scipy.special import gamma, gammainc

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DelayTime:
    """Defects and how long they show before they fail.

    Parameters
    ----------
    defects_per_cycle : float, > 0
        Rate at which defects arise.
    delay_shape, delay_scale_cycles : float, > 0
        Weibull of the cycles from the first sign to the failure.

    Raises
    ------
    ValueError
        If a value is not above 0.
    """

    defects_per_cycle: float
    delay_shape: float
    delay_scale_cycles: float

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not value > 0:
                raise ValueError(f"{name} must be above 0, got {value:g}")


@dataclass(frozen=True)
class InspectionCosts:
    """Money for one look, one defect put right at a look, and one failure.

    Raises
    ------
    ValueError
        If a cost is not above 0, or a failure is not dearer than a defect put right.
    """

    look: float
    defect: float
    failure: float

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not value > 0:
                raise ValueError(f"the cost of a {name} must be above 0, got {value:g}")
        if self.failure <= self.defect:
            raise ValueError(
                f"a failure ({self.failure:g}) must cost more than a defect put right "
                f"({self.defect:g}): were the two swapped?"
            )


def share_failing_before_look(interval_cycles: ArrayLike, delay: DelayTime) -> FloatArray:
    """Share of defects that fail before the next look finds them.

    Parameters
    ----------
    interval_cycles : array_like, cycles, > 0
        Cycles between looks.
    delay : DelayTime
        Defects of the part.

    Returns
    -------
    ndarray
        b(T) = (1/T) integral of F(u) to T, in [0, 1], F the delay's distribution.

    Raises
    ------
    ValueError
        If an interval is not above 0.

    References
    ----------
    Baker and Christer (1994), European Journal of Operational Research 73, 407-422.
    """
    interval = np.asarray(interval_cycles, dtype=float)
    if not (interval > 0).all():
        raise ValueError(f"an interval must be above 0 cycles, got {interval.min():g}")
    inverse = 1 / delay.delay_shape
    spent = (interval / delay.delay_scale_cycles) ** delay.delay_shape
    shown = delay.delay_scale_cycles * gamma(1 + inverse) * gammainc(inverse, spent)
    return 1 - shown / interval


def inspection_cost_rate(
    interval_cycles: ArrayLike, delays: tuple[DelayTime, ...], costs: InspectionCosts
) -> FloatArray:
    """Cost per cycle of looking at an interval, each look finding every defect that shows.

    Parameters
    ----------
    interval_cycles : array_like, cycles, > 0
        Cycles between looks.
    delays : tuple of DelayTime
        Defects of every part that one look sees.
    costs : InspectionCosts
        Costs in money.

    Returns
    -------
    ndarray
        c_look/T + the sum over parts of k (b c_failure + (1 - b) c_defect), money per cycle.

    Raises
    ------
    ValueError
        If an interval is not above 0.
    """
    rate = costs.look / np.asarray(interval_cycles, dtype=float)
    for delay in delays:
        failing = share_failing_before_look(interval_cycles, delay)
        per_defect = failing * costs.failure + (1 - failing) * costs.defect
        rate = rate + delay.defects_per_cycle * per_defect
    return np.asarray(rate)


def best_inspection_interval(delays: tuple[DelayTime, ...], costs: InspectionCosts) -> float | None:
    """Cycles between looks at least cost.

    Parameters
    ----------
    delays : tuple of DelayTime, at least one
        Defects of every part that one look sees.
    costs : InspectionCosts
        Costs in money.

    Returns
    -------
    float or None
        Cycles; None if looking never pays (no interval up to 50 of the longest delay scale is
        cheaper than letting every defect fail).
    """
    scales = [delay.delay_scale_cycles for delay in delays]
    intervals = np.geomspace(1e-3 * min(scales), 50.0 * max(scales), 400)
    rates = inspection_cost_rate(intervals, delays, costs)
    at = int(np.argmin(rates))
    never = sum(delay.defects_per_cycle for delay in delays) * costs.failure
    if at == len(intervals) - 1 or rates[at] >= never:
        return None
    found = minimize_scalar(
        lambda cycles: float(inspection_cost_rate(cycles, delays, costs)),
        bounds=(intervals[max(at - 1, 0)], intervals[at + 1]),
        method="bounded",
    )
    return float(found.x)


def looks_needed(detection_chance: float, wanted_chance: float) -> int:
    """Looks that must fall between first sign and failure to find a defect surely enough.

    Parameters
    ----------
    detection_chance : float, in (0, 1)
        Chance that one look finds a defect that shows.
    wanted_chance : float, in (0, 1)
        Chance wanted that at least one look finds it.

    Returns
    -------
    int
        Number of looks n; the interval is then the time from first sign to failure over n.

    Raises
    ------
    ValueError
        If a chance is not between 0 and 1.

    Examples
    --------
    >>> looks_needed(0.8, 0.95), looks_needed(0.6, 0.95)
    (2, 4)
    """
    for name, chance in (("detection", detection_chance), ("wanted", wanted_chance)):
        if not 0 < chance < 1:
            raise ValueError(f"the {name} chance lies between 0 and 1, got {chance:g}")
    return int(np.ceil(np.log1p(-wanted_chance) / np.log1p(-detection_chance) - 1e-12))
