"""What is marked on a fuse, read from the words of the catalogue; knows no Django."""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = r"(?<![\w.,])(\d+(?:[.,]\d+)?)"
_AMPS = re.compile(_NUMBER + r"\s*A\b", re.IGNORECASE)
# A truck's circuits are DC: a voltage marked for AC alone says nothing about them.
_VOLTS = re.compile(_NUMBER + r"\s*V\b(?!\s*AC\b)(?:\s*DC\b)?", re.IGNORECASE)


@dataclass(frozen=True)
class FuseMark:
    """Type in small letters, current in A, voltage in V DC; empty or None where not marked."""

    kind: str
    amps: float | None
    volts: float | None

    @property
    def is_full(self) -> bool:
        """Whether all three are marked."""
        return bool(self.kind) and self.amps is not None and self.volts is not None


def read_mark(text: str) -> FuseMark:
    """Take type, current and voltage from words such as “blade fuse; 20 A; 58 V DC”.

    Two currents or two voltages in one text tell neither.
    """
    amps, volts = _AMPS.findall(text), _VOLTS.findall(text)
    rest = _AMPS.sub(" ", _VOLTS.sub(" ", text))
    kind = " ".join(rest.replace(";", " ").replace(",", " ").casefold().split())
    return FuseMark(kind, _only(amps), _only(volts))


def _only(found: list[str]) -> float | None:
    numbers = {float(each.replace(",", ".")) for each in found}
    return numbers.pop() if len(numbers) == 1 else None
