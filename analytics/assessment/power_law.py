"""Whether the power law behind a slope describes the failures at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Ints
from analytics.kernel.lifetimes import NotEstimableError
from analytics.kernel.power_law_checks import (
    compare_slopes,
    count_reversals,
    cramer_von_mises,
    mean_at_end,
)
from analytics.kernel.recurrence import RepairHistories

# The distance that a fitting power law exceeds once in twenty times hardly moves from 20 failures
# on: 0.21 at 20, 0.22 at very many.
FEWEST_FOR_DISTANCE, LARGEST_DISTANCE = 20, 0.22
# With fewer failures a door its own slope is mostly chance, and the test of all of them with it.
FAILURES_FOR_SLOPE, DOORS_FOR_SLOPES = 3, 2


@dataclass(frozen=True)
class LoneDoor:
    """`reversals` of `pairs` gaps of which the later is the longer, and what it has come to."""

    reversals: int
    pairs: int
    now_cycles: float | None
    now_lower: float | None
    now_upper: float | None


@dataclass(frozen=True)
class PowerLawFit:
    """Checks on the doors seen from new; None where one cannot be made.

    `distance`: of the failures from the law; `slopes_p`: chance that doors of one slope differ as
    much as these, of which there are `slopes`; `alone`: of a single door.
    """

    doors: int
    failures: int
    distance: float | None
    slopes: int
    slopes_p: float | None
    alone: LoneDoor | None


def check_power_law(histories: RepairHistories) -> PowerLawFit:
    """Every check that the doors whose record begins at 0 cycles allow."""
    new = _of_doors(histories, np.flatnonzero(histories.start_cycles == 0))
    # A failure at the first cycle or the last leaves the law without a logarithm.
    inside = new.failures > 0 and bool((new.event_cycles > 0).all())
    slopes, slopes_p = _slopes(new) if inside else (0, None)
    return PowerLawFit(
        doors=new.doors,
        failures=new.failures,
        distance=_distance(new) if inside else None,
        slopes=slopes,
        slopes_p=slopes_p,
        alone=_alone(new) if inside and histories.doors == 1 else None,
    )


def _distance(new: RepairHistories) -> float | None:
    if new.failures < FEWEST_FOR_DISTANCE:
        return None
    found = cramer_von_mises(new)
    return found if np.isfinite(found) else None


def _slopes(new: RepairHistories) -> tuple[int, float | None]:
    counts = np.bincount(new.event_door, minlength=new.doors)
    # A door that failed at its window's end alone has no slope.
    before_end = new.event_cycles < new.end_cycles[new.event_door]
    early = np.bincount(new.event_door, weights=before_end, minlength=new.doors)
    enough = np.flatnonzero((counts >= FAILURES_FOR_SLOPE) & (early > 0))
    if len(enough) < DOORS_FOR_SLOPES:
        return 0, None
    p = compare_slopes(_of_doors(new, enough)).p
    return (len(enough), p) if np.isfinite(p) else (0, None)


def _alone(door: RepairHistories) -> LoneDoor:
    """Of a single door: whether its gaps grow, and what it has come to."""
    gaps = np.diff(np.sort(door.event_cycles), prepend=0.0)
    run = count_reversals(gaps)
    try:
        now = mean_at_end(door)
    except NotEstimableError:
        return LoneDoor(run.reversals, run.possible, None, None, None)
    return LoneDoor(run.reversals, run.possible, now.cycles, now.lower_cycles, now.upper_cycles)


def _of_doors(histories: RepairHistories, doors: Ints) -> RepairHistories:
    """Some doors, numbered anew."""
    place = np.full(histories.doors, -1)
    place[doors] = np.arange(len(doors))
    chosen = np.flatnonzero(place[histories.event_door] >= 0)
    return RepairHistories(
        histories.start_cycles[doors],
        histories.end_cycles[doors],
        place[histories.event_door[chosen]],
        histories.event_cycles[chosen],
    )
