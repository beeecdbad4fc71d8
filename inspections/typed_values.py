"""Whether a typed measurement can be what was meant, and what a lost decimal point would make it.

Bounds are common practice, no source. A doubtful value is asked about, an impossible one refused.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from inspections.electrical import USUAL_SUPPLY_VOLTS, supply_factor


class Typed(StrEnum):
    """Whether a typed value can be taken."""

    OK = "ok"
    DOUBTFUL = "doubtful"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True)
class Bounds:
    """What a quantity usually reads, what it may read, and what it can read at all."""

    usual: tuple[float, float]
    soft: tuple[float, float]
    hard: tuple[float, float]
    grows_with_supply: bool = False


@dataclass(frozen=True)
class TypedCheck:
    """The answer about one typed value; `suggestion` is the value a decimal point would make."""

    verdict: Typed
    suggestion: float | None
    low: float
    high: float


INFINITE = math.inf
BOUNDS = {
    "battery_volts": Bounds((11.0, 15.0), (10.0, 15.0), (0.0, 18.0), grows_with_supply=True),
    "converter_volts": Bounds((29.0, 34.0), (0.0, 36.0), (0.0, 60.0)),
    "motor_volts": Bounds((24.0, 34.0), (0.0, 36.0), (-36.0, 60.0)),
    "drop_volts": Bounds((0.0, 5.0), (-0.5, 10.0), (-36.0, 60.0)),
    "remote_volts": Bounds((2.4, 13.0), (1.0, 13.0), (0.0, 18.0)),
    "amps": Bounds((0.0, 40.0), (0.0, 60.0), (-200.0, 200.0)),
    "celsius": Bounds((-30.0, 60.0), (-45.0, 90.0), (-60.0, 150.0)),
    "ohms": Bounds((0.0, INFINITE), (0.0, INFINITE), (0.0, INFINITE)),
    "megohms": Bounds((0.0, INFINITE), (0.0, INFINITE), (0.0, INFINITE)),
    "newtons": Bounds((10.0, 300.0), (0.0, 500.0), (0.0, 2000.0)),
    "millimetres": Bounds((0.0, 500.0), (0.0, 2500.0), (0.0, 4000.0)),
    "seconds": Bounds((3.0, 30.0), (1.0, 120.0), (0.0, 3600.0)),
    "counts": Bounds((0.0, 999_999.0), (0.0, 999_999.0), (0.0, 999_999_999.0)),
}
# Where the usual band is narrow enough that a shifted decimal point stands out.
ASK_ABOUT_POINT = ("battery_volts", "converter_volts", "remote_volts", "newtons", "seconds")


def _within(value: float, band: tuple[float, float]) -> bool:
    return band[0] <= value <= band[1]


def _with_point_moved(quantity: str, value: float, usual: tuple[float, float]) -> float | None:
    if quantity not in ASK_ABOUT_POINT or _within(value, usual):
        return None
    moved = (round(value * 10, 9), round(value / 10, 9))
    return next((each for each in moved if _within(each, usual)), None)


def check_typed(
    quantity: str, value: float, supply_volts: float = USUAL_SUPPLY_VOLTS
) -> TypedCheck:
    """Judge a typed value of a quantity of `BOUNDS`.

    Raises
    ------
    ValueError
        If the quantity is unknown.
    """
    if quantity not in BOUNDS:
        raise ValueError(f"A quantity is one of {', '.join(BOUNDS)}, not {quantity}.")
    bounds = BOUNDS[quantity]
    factor = supply_factor(supply_volts) if bounds.grows_with_supply else 1.0
    usual, soft, hard = (
        (band[0] * factor, band[1] * factor) for band in (bounds.usual, bounds.soft, bounds.hard)
    )
    suggestion = _with_point_moved(quantity, value, usual)
    if not math.isfinite(value) or not _within(value, hard):
        return TypedCheck(Typed.IMPOSSIBLE, suggestion, *hard)
    doubtful = suggestion is not None or not _within(value, soft)
    return TypedCheck(Typed.DOUBTFUL if doubtful else Typed.OK, suggestion, *soft)
