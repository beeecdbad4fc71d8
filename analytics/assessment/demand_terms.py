"""What a forecast of demand is: mean and variance as functions of days ahead, and its basis."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from analytics.datasets.columns import Floats
from analytics.models.part_outlook import DemandMethod

DAYS_OF_WEEK = 7.0

MeanVariance = tuple[Floats, Floats]
DemandOverDays = Callable[[Floats], MeanVariance]
Basis = dict[str, float | str | None]


@dataclass(frozen=True)
class Demand:
    """Demand for one part at one depot as a function of days ahead, and what it rests on.

    `announced`: of its mean, what each kind of announced change adds (or below 0: takes away).
    """

    depot: int
    part: int
    method: DemandMethod
    over_days: DemandOverDays
    basis: Basis
    announced: Mapping[str, Callable[[Floats], Floats]] = field(default_factory=dict)
