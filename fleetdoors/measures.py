"""Units of measure: what is kept, and what a person reads and types; knows no Django.

The record is metric, always. One inch is 25.4 mm exactly; one pound-force is 4.448 221 615 260 5 N
exactly (0.453 592 37 kg at 9.806 65 m/s2): NIST SP 811, appendix B, from memory. Volts, amperes,
ohms, seconds and cycles are the same everywhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np

# One value, or an array of them.
Values = TypeVar("Values", float, "np.ndarray")


class System(StrEnum):
    """Which units a person reads and types."""

    METRIC = "metric"
    INCH = "inch"


@dataclass(frozen=True)
class Scale:
    """A unit that is shown: `per` kept units in one of it, `zero` = the kept value at its zero.

    `decimals` that are worth showing; None = as many as the kept value has.
    """

    unit: str
    per: float = 1.0
    zero: float = 0.0
    decimals: int | None = None

    def shown(self, kept: Values) -> Values:
        """What a person reads for a value on record."""
        return (kept - self.zero) / self.per

    def kept(self, shown: Values) -> Values:
        """What goes on record for a value that a person typed."""
        return shown * self.per + self.zero


_INCH = {
    "mm": Scale("in", per=25.4, decimals=2),
    "m": Scale("ft", per=0.3048, decimals=1),
    "N": Scale("lbf", per=4.4482216152605, decimals=1),
    "°C": Scale("°F", per=5 / 9, zero=-160 / 9, decimals=0),
}


def scale_of(unit: str, system: System) -> Scale:
    """How a kept unit is shown; the unit itself where nothing else is usual."""
    same = Scale(unit)
    return _INCH.get(unit, same) if system == System.INCH else same


def scales_of(system: System) -> dict[str, Scale]:
    """The units that are shown otherwise than kept, by the kept unit."""
    return dict(_INCH) if system == System.INCH else {}


# A number, or two with a short word between them, before a unit that is shown otherwise. A metre in
# running text is left alone: "m" stands for other things as well.
_NUMBER = r"[-−]?\d+(?:\.\d+)?"
_IN_WORDS = re.compile(
    rf"(?<![\w.,])(?:({_NUMBER})(\s+(?:to|and|or|a|y|o)\s+|\s*[-–]\s*))?"
    rf"({_NUMBER})\s(mm|N|°C)(?![\w·])"
)


def in_words(text: str, system: System) -> str:
    """A text with the measures in it, such as “25 to 50 mm”, in the units of the system."""
    scales = scales_of(system)

    def turned(found: re.Match[str]) -> str:
        first, between, last, unit = found.groups()
        scale = scales[unit]
        begin = f"{_turned(first, scale)}{between}" if first else ""
        return f"{begin}{_turned(last, scale)} {scale.unit}"

    return _IN_WORDS.sub(turned, text) if scales else text


def _turned(text: str, scale: Scale) -> str:
    """A number of a text, rounded half up as people do; never −0."""
    value = Decimal(repr(scale.shown(float(text.replace("−", "-")))))
    rounded = value.quantize(Decimal(1).scaleb(-(scale.decimals or 0)), ROUND_HALF_UP)
    words = str(rounded if rounded else abs(rounded))
    return words.replace("-", "−") if "−" in text else words
