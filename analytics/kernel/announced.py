"""What people announce, as arithmetic: days of present use, and pieces of a campaign."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

# A change of use that has begun shows in the readings more and more; after eight weeks they tell
# all of it. Rule of this program, without a source.
LEARNED_DAYS = 56.0


@dataclass(frozen=True, eq=False)
class UseSteps:
    """Announced changes of use of some doors, (k,); see `present_days`.

    Day 0 is now; a change that has begun lies below 0, one without an end ends at inf.
    """

    from_day: FloatArray
    until_day: FloatArray
    factor: FloatArray


def present_days(days: ArrayLike, steps: UseSteps) -> FloatArray:
    """Days of present use that fall into days ahead.

    Parameters
    ----------
    days : array_like, any shape, days, >= 0
        Days ahead.
    steps : UseSteps
        Announced changes; factors (k,) above 0, each in force from `from_day` until `until_day`.

    Returns
    -------
    ndarray
        Same shape: with a factor of 1.5 all along, 10 days come to 15.

    Raises
    ------
    ValueError
        If a factor is not above 0, or a change ends before it begins.

    Notes
    -----
    Factors of changes in force together multiply. The rate of today holds what readings have
    learned of a change already: a share that grows evenly over eight weeks from its first day
    and fades as long after its last. Of that share the factor is taken out again, so that nothing
    counts twice, and the end of a change that is well known lowers the use as announced.

    Examples
    --------
    >>> step = UseSteps(np.array([10.0]), np.array([np.inf]), np.array([2.0]))
    >>> present_days([5.0, 10.0, 20.0], step).tolist()
    [5.0, 10.0, 30.0]
    """
    if (steps.factor <= 0).any():
        raise ValueError(f"a factor of use must be above 0, got {steps.factor.min():g}")
    if (steps.until_day < steps.from_day).any():
        raise ValueError("a change of use ends on the day it begins, or later")
    ahead = np.asarray(days, dtype=float)
    bounds = np.concatenate([[0.0], steps.from_day, steps.until_day])
    edges = np.unique(bounds[(bounds >= 0) & np.isfinite(bounds)])
    known = float(np.prod(steps.factor ** learned_share(steps)))
    found = np.zeros_like(ahead)
    for start, end in zip(edges, [*edges[1:], np.inf], strict=True):
        in_force = (steps.from_day <= start) & (start < steps.until_day)
        level = float(np.prod(steps.factor[in_force])) / known
        found += level * np.clip(ahead - start, 0.0, end - start)
    return found


def learned_share(steps: UseSteps) -> FloatArray:
    """How much of each change the readings of today hold already.

    Parameters
    ----------
    steps : UseSteps
        Announced changes, (k,).

    Returns
    -------
    ndarray, shape (k,), in [0, 1]
        0 for a change that is still to begin.
    """
    run = np.minimum(np.clip(-steps.from_day, 0.0, None), steps.until_day - steps.from_day)
    over = np.clip(-steps.until_day, 0.0, None)
    return np.clip(np.minimum(run / LEARNED_DAYS, 1.0) - over / LEARNED_DAYS, 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class CampaignDemand:
    """Mean and variance of the pieces within each of the days asked for."""

    mean: FloatArray
    variance: FloatArray


def campaign_demand(
    days: ArrayLike, *, from_day: float, until_day: float, doors: float, pieces: float
) -> CampaignDemand:
    """Pieces that a campaign takes within days ahead, done evenly over its time.

    Parameters
    ----------
    days : array_like, any shape, days, >= 0
        Days ahead.
    from_day, until_day : float, days from now
        When it begins and ends; what should be done before now is taken as done.
    doors : float, >= 0
        Doors in all.
    pieces : float, >= 0
        Pieces on each door.

    Returns
    -------
    CampaignDemand
        Both of the shape of `days`.

    Raises
    ------
    ValueError
        If it does not end after it begins.

    Notes
    -----
    Each door still to be done falls on any remaining day alike: the mean is the share of the
    time times all pieces, the variance that of a binomial count of doors.

    Examples
    --------
    >>> campaign_demand([30.0, 90.0], from_day=30, until_day=90, doors=12, pieces=2).mean.tolist()
    [0.0, 24.0]
    """
    if not until_day > from_day:
        raise ValueError(f"a campaign ends after it begins, got {from_day:g} to {until_day:g}")
    ahead, length = np.asarray(days, dtype=float), until_day - from_day
    done = np.clip(-from_day / length, 0.0, 1.0)
    share = np.clip((ahead - from_day) / length, 0.0, 1.0) - done
    share = np.maximum(share, 0.0)
    chance = share / (1 - done) if done < 1 else np.zeros_like(share)
    return CampaignDemand(doors * pieces * share, doors * pieces**2 * share * (1 - chance))
