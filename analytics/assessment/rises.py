"""Which groups fail more often than before, and since when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.periods import PERIOD_DAYS
from analytics.datasets.columns import Floats
from analytics.kernel.worsening import watch_failures

WATCHED_PERIODS = 13
FEWEST_PERIODS_BEFORE = 13
FEWEST_FAILURES_BEFORE = 20
# The rate before and its scatter are themselves only estimated; so much evidence is taken off for
# it. In 1,500 made groups a case a steady one was named in at most 2 % of the years watched, one
# with repairs in clusters (variance twice the mean) in at most 4 %.
DISCOUNT = 0.3
SCATTER_DISCOUNT = 0.5
YEARS_TO_A_FALSE_ALARM = 50


@dataclass(frozen=True)
class Rise:
    """Failures that came more often: since which day, how many, how many at the rate before.

    `failures` and `expected` hold every period, oldest first, from `first_day` on.
    """

    since_day: float
    seen: float
    foreseen: float
    first_day: float
    failures: tuple[float, ...]
    expected: tuple[float, ...]


@dataclass(frozen=True)
class Watched:
    """Whether a group has record enough to be watched, and its rise if there is one."""

    is_watched: bool
    rise: Rise | None


UNWATCHED = Watched(False, None)


def watch(failures: Floats, cycles: Floats, first_day: float) -> Watched:
    """Hold the last year's failures against the rate of up to two years before it.

    `failures`, `cycles`: one entry per period, oldest first. Periods before the first cycles are
    left out. A rise that has ended is not told: the sum of evidence has been at nothing since.
    """
    begun = np.flatnonzero(cycles > 0)
    if not len(begun):
        return UNWATCHED
    start = int(begun[0])
    y, ran = failures[start:], cycles[start:]
    before = len(y) - WATCHED_PERIODS
    if before < FEWEST_PERIODS_BEFORE or y[:before].sum() < FEWEST_FAILURES_BEFORE:
        return UNWATCHED
    if not (ran[before:] > 0).all():
        return UNWATCHED
    expected = ran * (y[:before].sum() + 0.5) / ran[:before].sum()
    found = watch_failures(y[before:], expected[before:], _dispersion(y, expected, before))
    first = found.first_alarm
    if first is None or not (found.level[first:] > 0).all():
        return Watched(True, None)
    quiet = np.flatnonzero(found.level[:first] <= 0)
    since = before + (int(quiet[-1]) + 1 if len(quiet) else 0)
    begins = first_day + PERIOD_DAYS * start
    rise = Rise(
        since_day=begins + PERIOD_DAYS * since,
        seen=float(y[since:].sum()),
        foreseen=float(expected[since:].sum()),
        first_day=begins,
        failures=tuple(y.tolist()),
        expected=tuple(expected.tolist()),
    )
    return Watched(True, rise)


def _dispersion(y: Floats, expected: Floats, before: int) -> float:
    """Variance over mean of the periods before, on the careful side."""
    ran = expected[:before] > 0
    off = (y[:before][ran] - expected[:before][ran]) ** 2 / expected[:before][ran]
    scatter = float(off.sum()) / max(int(ran.sum()) - 1, 1)
    careful = scatter * (1 + SCATTER_DISCOUNT * np.sqrt(2 / max(before - 1, 1)))
    return float(max(1.0, careful) * (1 + DISCOUNT * WATCHED_PERIODS / before))
