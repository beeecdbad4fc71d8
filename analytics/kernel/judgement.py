"""What is said of each reading, and by which settings."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.causes import CauseShares
from analytics.kernel.effective_days import Floats, Ints
from analytics.kernel.exposure import Codes, Flags
from analytics.kernel.rate_filter import FilterSettings

Singles = NDArray[np.float32]

PLAUSIBILITY_FILTER = FilterSettings(half_life_days=250.0, noise=0.02, dispersion=20.0, clip_sd=3.0)


class Settlement(IntEnum):
    """What a later reading said about an earlier one, nobody having been asked."""

    NONE = 0
    ACCEPTED_LATER = 1  # was held, a later reading follows from it
    SET_ASIDE = 2  # was accepted, a later reading follows from the one before it
    BORNE_OUT = 3  # is held, a later reading fits without it


@dataclass(frozen=True)
class PlausibilitySettings:
    """Settings of the judge.

    Parameters
    ----------
    rate_filter : FilterSettings of the rate behind the expectation
    shares : CauseShares
    opening_untold : share of doors whose opening cycles of 0 only mean that nobody wrote them down
    follow_margin : a reading follows from another one if the log density of the step beats
        log(1 / modulus) by so much
    line_margin : the same for a reading in line with two held ones, which speak for it as well
    retract_ratio : an accepted reading is set aside only if the new one follows from the reading
        before at least so many times as well
    most_cycles_per_day : a door cannot do more (common practice, no source)
    suggestion_chance : a correction is offered above this posterior probability
    """

    rate_filter: FilterSettings = PLAUSIBILITY_FILTER
    shares: CauseShares = field(default_factory=CauseShares)
    opening_untold: float = 0.03
    follow_margin: float = 3.5
    line_margin: float = 2.0
    retract_ratio: float = 1.0
    most_cycles_per_day: float = 400.0
    suggestion_chance: float = 0.9


DEFAULT_PLAUSIBILITY = PlausibilitySettings()


@dataclass(frozen=True)
class Judgement:
    """What is said of each reading.

    Parameters
    ----------
    held : (r,) bool, not accepted at present
    cause : (r,) int8, see `Cause`
    probability : (r,) of that cause; a lower bound where a reading passed at first sight
    suggested_value : (r,) counts, the likely intended value; nan where none is likely enough
    suggested_probability : (r,) nan where there is none
    neighbour : (r,) int32, door whose counter the value fits; -1 none
    settlement : (r,) int8, see `Settlement`
    cycles : (r,) lifetime cycles, nan where held
    counted : (r,) bool; the cycles since the accepted point before were counted
    estimated : (r,) bool; an exchange nobody recorded was bridged by the door's usual rate
    base, mean, variance, modulus : (r,) the expectation behind the judgement: counts at the base,
        counts expected since, squared coefficient of variation, counts of the counter
    accepted, held_count, holds_in_row : (n,) int64; three or more in a row and a person is asked
    """

    held: Flags
    cause: Codes
    probability: Singles
    suggested_value: Floats
    suggested_probability: Singles
    neighbour: NDArray[np.int32]
    settlement: Codes
    cycles: Floats
    counted: Flags
    estimated: Flags
    base: Floats
    mean: Singles
    variance: Singles
    modulus: Floats
    accepted: Ints
    held_count: Ints
    holds_in_row: Ints

    @classmethod
    def of_nothing(cls) -> Judgement:
        """Return what is said of no reading of no door."""
        flags, codes, doors = np.zeros(0, bool), np.zeros(0, np.int8), np.zeros(0, np.int64)
        numbers, singles = np.zeros(0), np.zeros(0, np.float32)
        return cls(
            held=flags,
            cause=codes,
            probability=singles,
            suggested_value=numbers,
            suggested_probability=singles,
            neighbour=np.zeros(0, np.int32),
            settlement=codes,
            cycles=numbers,
            counted=flags,
            estimated=flags,
            base=numbers,
            mean=singles,
            variance=singles,
            modulus=numbers,
            accepted=doors,
            held_count=doors,
            holds_in_row=doors,
        )

    @property
    def expected_value(self) -> Floats:
        """Counts each counter was expected to show, (r,), within its digits; nan without a base."""
        return (self.base + self.mean) % self.modulus

    @property
    def expected_low(self) -> Floats:
        """Lower end of the range expected, 95 %, (r,), within the counter's digits."""
        return (self.base + self.mean / self._stretch()) % self.modulus

    @property
    def expected_high(self) -> Floats:
        """Upper end of the range expected, 95 %, (r,), within the counter's digits."""
        return (self.base + self.mean * self._stretch()) % self.modulus

    def _stretch(self) -> Singles:
        return np.exp(1.96 * np.sqrt(np.log1p(self.variance)))
