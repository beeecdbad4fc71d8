"""How many failures each door's cycles, age, model and route lead one to expect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.groups import Windows
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.kernel.more_than_share import first_of_repeats

AGE_BANDS = 5
# How many expected failures the fleet's own rate counts for against that of a model or route:
# a class of a few doors must not explain away what its one bad door does.
CLASS_WEIGHT = 10.0


@dataclass(frozen=True)
class Shares:
    """Failures counted once per repair and expected, by door (n,); which were counted, (f,)."""

    counted: Floats
    expected: Floats
    is_first: Flags

    @property
    def repeats(self) -> int:
        """Failures that were taken for a repeat of one before."""
        return int((~self.is_first).sum())


def assess_shares(
    windows: Windows, failures: Ints, day: Floats, classes: tuple[Ints, ...]
) -> Shares:
    """Standardise indirectly: the fleet's rate by age band, times what each class does to it.

    `failures` are the rows that count, `day` the day of every row, and each of `classes` numbers
    the doors by one way of grouping them, such as the door model. A failure of the same component
    on the same door within 14 days is a repeat of one repair.
    """
    door, component = windows.failure_door[failures], windows.failure_component[failures]
    same = np.unique(np.stack((door, component)), axis=1, return_inverse=True)[1].ravel()
    is_first = first_of_repeats(same, day[failures])
    firsts = failures[is_first]
    counted = np.bincount(windows.failure_door[firsts], minlength=len(windows.start_cycles)).astype(
        float
    )
    expected = _by_age(windows, windows.failure_cycles[firsts])
    for own in classes:
        expected = expected * _class_factor(counted, expected, own)[own]
    total = expected.sum()
    # The factors keep each class near its own number; this keeps the fleet at its own.
    return Shares(counted, expected * (counted.sum() / total if total else 1.0), is_first)


def _by_age(windows: Windows, at_cycles: Floats) -> Floats:
    """Cycles of each door within bands of age that hold equally many failures, times their rate."""
    start, end = windows.start_cycles, windows.end_cycles
    if len(at_cycles) == 0:
        return np.zeros(len(start))
    inner = np.unique(np.quantile(at_cycles, np.arange(1, AGE_BANDS) / AGE_BANDS))
    edges = np.concatenate(([-np.inf], inner, [np.inf]))
    run = np.clip(
        np.minimum(end[:, None], edges[1:]) - np.maximum(start[:, None], edges[:-1]), 0.0, None
    )
    band = np.searchsorted(inner, at_cycles, side="left")
    failed = np.bincount(band, minlength=len(edges) - 1)
    cycles = run.sum(axis=0)
    rate = np.divide(failed, cycles, out=np.zeros(len(cycles)), where=cycles > 0)
    return run @ rate


def _class_factor(counted: Floats, expected: Floats, own: Ints) -> Floats:
    """Counted over expected of each class, drawn to 1 where little was expected of it."""
    size = int(own.max(initial=-1)) + 1
    seen = np.bincount(own, weights=counted, minlength=size)
    foreseen = np.bincount(own, weights=expected, minlength=size)
    return (seen + CLASS_WEIGHT) / (foreseen + CLASS_WEIGHT)
