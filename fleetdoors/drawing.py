"""Where things stand along a strip, in per cent of its width."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from start to end, in the unit of the values it places."""

    start: float
    end: float

    def __post_init__(self) -> None:
        if not self.end > self.start:
            raise ValueError(f"A scale must end after it starts, got {self.start} to {self.end}")

    def place(self, value: float) -> str:
        """Where a value stands, as text such as ``12.5%``; beyond the ends it is held there."""
        return per_cent(self.share(value))

    def width(self, low: float, high: float) -> str:
        """How wide the stretch between two values is, as text such as ``12.5%``."""
        return per_cent(self.share(high) - self.share(low))

    def share(self, value: float) -> float:
        return min(max((value - self.start) / (self.end - self.start), 0.0), 1.0)


def per_cent(share: float) -> str:
    """A share as an SVG length, never in a local number format."""
    return f"{100 * share:.2f}".rstrip("0").rstrip(".") + "%"


def round_steps(start: float, end: float, wanted: int) -> tuple[float, ...]:
    """Round values inside a range, 1, 2 or 5 times a power of ten apart, about as many as asked."""
    if not end > start:
        raise ValueError(f"A range must end after it starts, got {start} to {end}")
    rough = (end - start) / wanted
    power = 10.0 ** _decade(rough)
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999)
    slack = 1e-9  # 1 / 0.2 is a hair under or over 5
    first = math.ceil(start / step - slack)
    last = math.floor(end / step + slack)
    return tuple(step * k for k in range(first, last + 1))


def _decade(value: float) -> int:
    return int(f"{value:e}".split("e")[1])
