"""Whether parts fail more often than their ages say, by the life of their like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from analytics.kernel.demand_calibration import MUCH_FASTER, SURE_ENOUGH
from analytics.kernel.lifetimes import Lifetimes
from analytics.kernel.posterior import WeibullDraws

FloatArray = NDArray[np.float64]


# What the factor is taken to be before anything is seen, 1, counts as so many failures (rule of
# this program).
PRIOR_FAILURES = 4.0
# Points of each likely life's own distribution of the factor.
STEPS = (np.arange(40) + 0.5) / 40
ENDS = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class AgainstAge:
    """Failures seen against those expected; see `compare_with_age` for every field."""

    failures: float
    expected: float
    factor: float
    lower: float
    upper: float
    chance_much_faster: float

    @property
    def alert(self) -> bool:
        """Whether they fail much faster than their ages say, beyond reasonable doubt."""
        return self.chance_much_faster > SURE_ENOUGH


def compare_with_age(lives: Lifetimes, of_others: WeibullDraws) -> AgainstAge:
    """Set the failures of some parts against what the life of others expects at their ages.

    Parameters
    ----------
    lives : Lifetimes
        Lives of the parts in question, ages in cycles.
    of_others : WeibullDraws
        Equally likely lives of the parts they are compared with, scale in cycles.

    Returns
    -------
    AgainstAge
        `failures` and `expected` in pieces; `factor`: how many times as often they fail, with its
        90 % range `lower` to `upper`; `chance_much_faster`: chance that it exceeds 1.25, `alert`
        where that is above 0.9.

    Notes
    -----
    Expected are the cumulative hazards from the age at which each life came under observation
    to its end, summed over the lives; a failure between two ages counts to the middle of them.
    Before any is seen the factor is 1 with the weight of four failures. Each likely life of the
    others gives a gamma distribution of the factor; they are laid together, so that how little
    the others are known widens the range.

    Examples
    --------
    >>> same = Lifetimes.from_ages([500.0] * 40, [True] * 40)
    >>> found = compare_with_age(same, WeibullDraws(np.array([1.0]), np.array([2000.0])))
    >>> found.failures, round(found.expected, 1), found.alert
    (40.0, 10.0, True)
    """
    failed = np.isfinite(lives.hi_cycles)
    end = np.where(failed, (lives.lo_cycles + lives.hi_cycles) / 2, lives.lo_cycles)
    failures = float(lives.weights[failed].sum())
    by_draw = [
        float(lives.weights @ ((end / scale) ** shape - (lives.entry_cycles / scale) ** shape))
        for shape, scale in zip(of_others.shape, of_others.scale_cycles, strict=True)
    ]
    factors = np.concatenate([_possible_factors(failures, expected) for expected in by_draw])
    lower, middle, upper = np.quantile(factors, ENDS).tolist()
    chance = float((factors > MUCH_FASTER).mean())
    return AgainstAge(failures, float(np.mean(by_draw)), middle, lower, upper, chance)


def _possible_factors(failures: float, expected: float) -> FloatArray:
    """Equally likely factors, were the life of the others exactly this one."""
    weight, rate = PRIOR_FAILURES + failures, PRIOR_FAILURES + expected
    return np.asarray(gammaincinv(weight, STEPS) / rate)
