"""One claim about a method: what it must reach, and what was measured in this run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# What an interval said to hold 9 times in 10, or 8 times in 10, may hold in a simulation.
COVER_90 = (0.83, 0.96)
COVER_80 = (0.75, 0.86)


@dataclass(frozen=True)
class Claim:
    """A sentence with the range its measured value must lie in."""

    group: str
    sentence: str
    measured: float
    lowest: float = -inf
    highest: float = inf
    printed: str = ""

    @property
    def holds(self) -> bool:
        """Whether the measured value lies in the range; one that is no number does not."""
        return self.lowest <= self.measured <= self.highest

    @property
    def target(self) -> str:
        """The range in words, or the answer as it was printed."""
        if self.printed:
            return f"{self.printed} as printed"
        if self.lowest == -inf:
            return f"at most {self.highest:.6g}"
        if self.highest == inf:
            return f"at least {self.lowest:.6g}"
        return f"{self.lowest:.6g} to {self.highest:.6g}"


@dataclass(frozen=True)
class Effort:
    """How much is simulated: a share of the full number of runs."""

    share: float

    def runs(self, full: int, least: int = 1) -> int:
        """So many runs of the full number."""
        return max(round(full * self.share), least)


FULL, QUICK = Effort(1.0), Effort(0.25)


def as_printed(group: str, sentence: str, measured: float, printed: str, units: int = 1) -> Claim:
    """A published answer, to be met within half a unit (or so many) of its last digit."""
    digits = len(printed.partition(".")[2])
    within = max(units - 0.5, 0.5) * 10.0**-digits * 1.0001
    return Claim(
        group, sentence, measured, float(printed) - within, float(printed) + within, printed
    )


def share_inside(lower: Iterable[float], truth: Iterable[float], upper: Iterable[float]) -> float:
    """Share of ranges that hold the truth."""
    low, true, high = (np.asarray(list(values), float) for values in (lower, truth, upper))
    return float(((low <= true) & (true <= high)).mean())
