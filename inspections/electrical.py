"""Electrics of the door: cable drop, supply, converter and battery bands, typed values.

Volts, amps, ohms, watts, degrees Celsius, metres. Plain arithmetic: nothing here knows a model or
the clock. Limits without a source are common practice, no source; a door model's own figures go
in their place.

References
----------
NBS Handbook 100, Copper Wire Tables (1966): resistivity of annealed copper 1.7241e-8 ohm metre at
20 degrees (100 % IACS), temperature coefficient 0.00393 per kelvin. ASTM B258: the gauge series.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

COPPER_OHM_METRES = 1.7241e-8
COPPER_PER_KELVIN = 0.00393
REFERENCE_CELSIUS = 20.0
# The gauge series runs geometrically from 36 (0.127 mm) in 39 steps to a ratio of 92.
GAUGE_36_METRES = 0.127e-3
GAUGES = range(0, 41)
USUAL_SUPPLY_VOLTS = 12.0
CONVERTER_EFFICIENCY = 0.90
# Adding and subtracting decimals misses a limit by some 1e-15; this much never changes a verdict.
ROUNDING = 1e-9


class Band(StrEnum):
    """How a measurement stands to its limit."""

    HOLDS = "holds"
    NEAR = "near"
    PAST = "past"


class ConverterBand(StrEnum):
    """What a converter's output says about it."""

    HOLDS = "holds"
    NEAR = "near"
    DEAD = "dead"
    NOT_BOOSTING = "not_boosting"
    OUT_OF_REGULATION = "out_of_regulation"


@dataclass(frozen=True)
class DropLimits:
    """Cable drop, V, above which it is near its limit, and above which it is past."""

    near_volts: float
    past_volts: float


@dataclass(frozen=True)
class OperatingPoint:
    """Where a supply and a constant-power load meet; no volts and amps where they cannot."""

    volts: float | None
    amps: float | None
    most_watts: float

    @property
    def collapses(self) -> bool:
        """Whether the load asks for more than the supply can ever give."""
        return self.volts is None


def judge_least(value: float, *, holds: float, near: float) -> Band:
    """Band of a value that should be at least `holds`, and no less than `near`."""
    if value >= holds - ROUNDING:
        return Band.HOLDS
    return Band.NEAR if value >= near - ROUNDING else Band.PAST


def judge_most(value: float, *, holds: float, near: float) -> Band:
    """Band of a value that should be at most `holds`, and no more than `near`."""
    return judge_least(-value, holds=-holds, near=-near)


def gauge_square_metres(awg: int) -> float:
    """Copper area of a gauge, square metres.

    Raises
    ------
    ValueError
        If the gauge is not a whole number from 0 to 40.
    """
    if awg not in GAUGES:
        raise ValueError(f"A cable gauge is a whole number from 0 to 40, not {awg}.")
    metres = GAUGE_36_METRES * math.pow(92.0, (36 - awg) / 39)
    return math.pi / 4 * metres**2


def cable_ohms(awg: int, metres: float, celsius: float = REFERENCE_CELSIUS) -> float:
    """Resistance out and back of a cable whose conductors are `metres` long, uncoiled.

    Raises
    ------
    ValueError
        If the gauge is unknown or the length is negative or not finite.
    """
    if not (math.isfinite(metres) and metres >= 0):
        raise ValueError(f"A cable is zero metres long or more, not {metres}.")
    at_reference = 2 * metres * COPPER_OHM_METRES / gauge_square_metres(awg)
    return at_reference * (1 + COPPER_PER_KELVIN * (celsius - REFERENCE_CELSIUS))


def cable_drop_volts(
    amps: float, awg: int, metres: float, celsius: float = REFERENCE_CELSIUS
) -> float:
    """Volts that a sound cable loses out and back at this current."""
    return amps * cable_ohms(awg, metres, celsius)


def allowed_drop(computed_volts: float | None) -> DropLimits:
    """Limits of the measured drop of a cable; without a measured current, 2.0 and 3.0 V.

    Notes
    -----
    Near above 1.5 times the computed drop, at least 1.0 V; past above twice the computed drop, at
    least 1.5 V and at most 5.0 V. Near never lies above past. Common practice, no source.
    """
    if computed_volts is None:
        return DropLimits(2.0, 3.0)
    past = max(1.5, min(2.0 * computed_volts, 5.0))
    return DropLimits(min(max(1.0, 1.5 * computed_volts), past), past)


def judge_drop(drop_volts: float, limits: DropLimits) -> Band:
    """Band of a measured cable drop."""
    return judge_most(drop_volts, holds=limits.near_volts, near=limits.past_volts)


def input_amps(
    output_volts: float,
    output_amps: float,
    input_volts: float,
    efficiency: float = CONVERTER_EFFICIENCY,
) -> float:
    """Current that a converter draws from its input for what it gives.

    Raises
    ------
    ValueError
        If the input is not above 0 V or the efficiency not within 0 to 1.
    """
    if not input_volts > 0:
        raise ValueError(f"A converter's input is above 0 V, not {input_volts}.")
    if not 0 < efficiency <= 1:
        raise ValueError(f"An efficiency lies above 0 and not above 1, not {efficiency}.")
    return output_volts * output_amps / (efficiency * input_volts)


def operating_point(rest_volts: float, source_ohms: float, watts: float) -> OperatingPoint:
    """Where a supply of `rest_volts` behind `source_ohms` settles under a constant power.

    Raises
    ------
    ValueError
        If the supply is not above 0 V, or ohms or watts are negative.

    Notes
    -----
    V(V0 - V)/R = P has the stable root (V0 + sqrt(V0^2 - 4 P R))/2. Below zero under the root no
    point exists: the supply collapses, and a sound converter looks broken.
    """
    if not rest_volts > 0 or source_ohms < 0 or watts < 0:
        raise ValueError(
            "A supply is above 0 V, its ohms and the watts not below zero, "
            f"not {rest_volts} V, {source_ohms} ohm, {watts} W."
        )
    most_watts = math.inf if source_ohms == 0 else rest_volts**2 / (4 * source_ohms)
    under_the_root = rest_volts**2 - 4 * watts * source_ohms
    if under_the_root < 0:
        return OperatingPoint(None, None, most_watts)
    volts = (rest_volts + math.sqrt(under_the_root)) / 2
    return OperatingPoint(volts, watts / volts, most_watts)


def classify_converter(
    output_volts: float, input_volts: float, *, low_volts: float = 31.0, high_volts: float = 33.0
) -> ConverterBand:
    """What an output without load says, beside the input measured at the same moment.

    Notes
    -----
    The band of the door model holds, 1.0 V to either side is near. 0 to 2 V is dead or latched
    off. Within 1.0 V of its own input, which is 14 V with the engine running, it passes its input
    through. The order matters on 24 V: a reading in the near band is near, whatever the input.
    """
    if low_volts - ROUNDING <= output_volts <= high_volts + ROUNDING:
        return ConverterBand.HOLDS
    if low_volts - 1.0 - ROUNDING <= output_volts <= high_volts + 1.0 + ROUNDING:
        return ConverterBand.NEAR
    if output_volts <= 2.0 + ROUNDING:
        return ConverterBand.DEAD
    if abs(output_volts - input_volts) <= 1.0 + ROUNDING:
        return ConverterBand.NOT_BOOSTING
    return ConverterBand.OUT_OF_REGULATION


def supply_factor(supply_volts: float) -> float:
    """By how much limits of battery and input stand above those of a 12 V truck.

    Raises
    ------
    ValueError
        If the supply is not above 0 V.
    """
    if not supply_volts > 0:
        raise ValueError(f"A supply is above 0 V, not {supply_volts}.")
    return supply_volts / USUAL_SUPPLY_VOLTS


def battery_at_rest(volts: float, supply_volts: float = USUAL_SUPPLY_VOLTS) -> Band:
    """Band of a battery an hour or more without load or charge."""
    factor = supply_factor(supply_volts)
    return judge_least(volts, holds=12.4 * factor, near=12.2 * factor)


def battery_running(volts: float, supply_volts: float = USUAL_SUPPLY_VOLTS) -> Band:
    """Band of the battery posts while the door runs, engine off."""
    factor = supply_factor(supply_volts)
    return judge_least(volts, holds=11.5 * factor, near=11.0 * factor)


def battery_charging(volts: float, supply_volts: float = USUAL_SUPPLY_VOLTS) -> Band:
    """Band of the battery posts with the engine running: 13.5 to 14.8 V holds."""
    factor = supply_factor(supply_volts)
    if volts > 14.8 * factor + ROUNDING:
        return Band.NEAR if volts <= 15.0 * factor + ROUNDING else Band.PAST
    return judge_least(volts, holds=13.5 * factor, near=12.8 * factor)


def charge_quarters(volts: float, supply_volts: float = USUAL_SUPPLY_VOLTS) -> int:
    """Charge of a rested battery in quarters, 0 to 4: a meter cannot tell it finer."""
    per_twelve = volts / supply_factor(supply_volts)
    return sum(per_twelve >= bound - ROUNDING for bound in (12.0, 12.2, 12.4, 12.6))
