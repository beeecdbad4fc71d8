"""Limits of what is measured on a door: from the door model, the supply, the cable, the baseline.

Pure: values in, limits out. A limit without a source is common practice, no source; the door
maker's figures go in its place through the door model.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from inspections.electrical import (
    COPPER_PER_KELVIN,
    REFERENCE_CELSIUS,
    ROUNDING,
    allowed_drop,
    cable_drop_volts,
    supply_factor,
)

# On the door's own as-new resistance: watch and act (from a voltage-drop budget, no source).
WATCH_RESISTANCE, ACT_RESISTANCE = 1.3, 1.6
WATCH_AMPS, ACT_AMPS = 1.3, 1.6
WATCH_SECONDS, ACT_SECONDS = 1.15, 1.30
SENSOR_NEAR_MM, SENSOR_PAST_MM = 5.0, 10.0


@dataclass(frozen=True)
class Limits:
    """Beyond a limit a value is past it, beyond a near line near; None = none on that side."""

    source: str = ""
    limit_low: float | None = None
    near_low: float | None = None
    near_high: float | None = None
    limit_high: float | None = None

    @property
    def are_known(self) -> bool:
        """Whether there is anything to compare with."""
        return self.limit_low is not None or self.limit_high is not None


@dataclass(frozen=True)
class DoorFigures:
    """What the door model says; volts, metres, millimetres."""

    code: str
    supply_volts: float = 12.0
    drive_volts_low: float = 31.0
    drive_volts_high: float = 33.0
    cable_awg: int | None = None
    cable_metres: float | None = None
    sensor_offset_mm: float = 25.0


@dataclass(frozen=True)
class Circumstances:
    """What was measured in the same run, and when the door was put into service."""

    values: Mapping[str, float] = field(default_factory=dict)
    baselines: Mapping[str, float] = field(default_factory=dict)
    amps: float | None = None
    celsius: float | None = None
    baseline_amps: float | None = None
    baseline_celsius: float | None = None
    engine_running: bool = False


def limits_for(quantity: str, door: DoorFigures, found: Circumstances) -> Limits:
    """The limits in force for one quantity of one door at this moment."""
    return _RULES[quantity](door, found)


def judge(value: float, limits: Limits) -> str:
    """`holds`, `near` or `past`; `no_limit` where there is nothing to compare with."""
    if not limits.are_known:
        return "no_limit"
    if _outside(value, limits.limit_low, limits.limit_high):
        return "past"
    return "near" if _outside(value, limits.near_low, limits.near_high) else "holds"


def _outside(value: float, low: float | None, high: float | None) -> bool:
    below = low is not None and value < low - ROUNDING
    return below or (high is not None and value > high + ROUNDING)


def _grade(_door: DoorFigures, _found: Circumstances) -> Limits:
    return Limits(_("as looked at"), near_high=0.0, limit_high=1.0)


def _at_least(near: float, limit: float) -> Callable[[DoorFigures, Circumstances], Limits]:
    """Volts of a 12 V truck, scaled to the door model's supply."""

    def rule(door: DoorFigures, _found: Circumstances) -> Limits:
        factor = supply_factor(door.supply_volts)
        source = _("%(volts)g V truck, %(practice)s") % {
            "volts": door.supply_volts,
            "practice": _common_practice(),
        }
        return Limits(source, limit_low=limit * factor, near_low=near * factor)

    return rule


def _battery_rest(door: DoorFigures, found: Circumstances) -> Limits:
    """With the engine on, what the charging gives: 13.5 to 14.8 V, near down to 12.8 and to 15."""
    if not found.engine_running:
        return _at_least(12.4, 12.2)(door, found)
    factor = supply_factor(door.supply_volts)
    source = _("charging, engine on, %(practice)s") % {"practice": _common_practice()}
    return Limits(source, 12.8 * factor, 13.5 * factor, 14.8 * factor, 15.0 * factor)


def _converter_no_load(door: DoorFigures, _found: Circumstances) -> Limits:
    low, high = door.drive_volts_low, door.drive_volts_high
    return Limits(_from_model(door), low - 1.0, low, high, high + 1.0)


def _converter_running(door: DoorFigures, _found: Circumstances) -> Limits:
    low = door.drive_volts_low
    return Limits(_from_model(door), limit_low=low - 2.0, near_low=low - 1.0)


def _fuse(_door: DoorFigures, _found: Circumstances) -> Limits:
    return Limits(_common_practice(), near_high=1.0, limit_high=1.0)


def _board_output(door: DoorFigures, found: Circumstances) -> Limits:
    """Within 1.0 V of the bus: the converter's output in the same run, or else its lowest."""
    bus = found.values.get("converter_running")
    if bus is None:
        return Limits(_from_model(door), limit_low=door.drive_volts_low - 3.0,
                      near_low=door.drive_volts_low - 2.0)  # fmt: skip
    source = _("within 1.0 V of the converter's output, %(volts).1f V in this run") % {"volts": bus}
    return Limits(source, limit_low=bus - 1.0, near_low=bus - 1.0)


def _motor_end(door: DoorFigures, found: Circumstances) -> Limits:
    """What the board gives less what the cable may lose; of two rules the first that trips."""
    board = found.values.get("board_output", found.values.get("converter_running"))
    if board is None:
        return Limits()
    computed = _computed_drop(door, found)
    table = allowed_drop(computed)
    own = _own_drop(found)
    if own is not None and own * ACT_RESISTANCE < table.past_volts:
        near, past = own * WATCH_RESISTANCE, own * ACT_RESISTANCE
        source = _("this door's own cable when new: %(drop).2f V at this current") % {"drop": own}
        return Limits(source, limit_low=board - past, near_low=board - min(near, table.near_volts))
    if computed is None:
        source = _("cable drop without a measured current, %(practice)s") % {
            "practice": _common_practice()
        }
    else:
        source = _("AWG %(awg)d, %(metres)g m at %(amps)g A: %(drop).2f V (NBS Handbook 100)") % {
            "awg": door.cable_awg,
            "metres": door.cable_metres,
            "amps": found.amps,
            "drop": computed,
        }
    return Limits(source, board - table.past_volts, board - table.near_volts)


def _computed_drop(door: DoorFigures, found: Circumstances) -> float | None:
    if found.amps is None or door.cable_awg is None or door.cable_metres is None:
        return None
    return cable_drop_volts(found.amps, door.cable_awg, door.cable_metres, _celsius(found.celsius))


def _own_drop(found: Circumstances) -> float | None:
    """The drop that the resistance measured when the door was new gives at this current."""
    board, motor = found.baselines.get("board_output"), found.baselines.get("motor_end")
    if board is None or motor is None or not found.baseline_amps or found.amps is None:
        return None
    when_new = (board - motor) / found.baseline_amps / _warmth(found.baseline_celsius)
    return when_new * _warmth(found.celsius) * found.amps if when_new > 0 else None


def _warmth(celsius: float | None) -> float:
    return 1 + COPPER_PER_KELVIN * (_celsius(celsius) - REFERENCE_CELSIUS)


def _celsius(celsius: float | None) -> float:
    return REFERENCE_CELSIUS if celsius is None else celsius


def _of_baseline(
    quantity: str, watch: float, act: float
) -> Callable[[DoorFigures, Circumstances], Limits]:
    """So many times what was measured when the door was put into service."""

    def rule(_door: DoorFigures, found: Circumstances) -> Limits:
        new = found.baselines.get(quantity)
        if not new:
            return Limits()
        source = _("%(times)g times this door's own value when new, %(value)g") % {
            "times": act,
            "value": new,
        }
        return Limits(source, near_high=watch * new, limit_high=act * new)

    return rule


def _balance(_door: DoorFigures, _found: Circumstances) -> Limits:
    return Limits(_("drift in 10 s, %(practice)s") % {"practice": _common_practice()},
                  -150.0, -50.0, 50.0, 150.0)  # fmt: skip


def _drag(_door: DoorFigures, _found: Circumstances) -> Limits:
    return Limits(_common_practice(), near_high=100.0, limit_high=150.0)


def _sensor_offset(door: DoorFigures, _found: Circumstances) -> Limits:
    middle = door.sensor_offset_mm
    return Limits(_from_model(door), middle - SENSOR_PAST_MM, middle - SENSOR_NEAR_MM,
                  middle + SENSOR_NEAR_MM, middle + SENSOR_PAST_MM)  # fmt: skip


def _common_practice() -> str:
    return _("common practice, no source")


def _from_model(door: DoorFigures) -> str:
    return _("door model %(code)s") % {"code": door.code}


_RULES: dict[str, Callable[[DoorFigures, Circumstances], Limits]] = {
    "spring": _grade,
    "lift_cables": _grade,
    "secures": _grade,
    "cable_condition": _grade,
    "reverse_function": _grade,
    "ajar_lamp": _grade,
    "manual_release": _grade,
    "battery_rest": _battery_rest,
    "battery_running": _at_least(11.5, 11.0),
    "converter_input": _at_least(11.5, 11.0),
    "converter_no_load": _converter_no_load,
    "converter_running": _converter_running,
    "fuse": _fuse,
    "board_output": _board_output,
    "motor_end": _motor_end,
    "motor_amps": _of_baseline("motor_amps", WATCH_AMPS, ACT_AMPS),
    "balance_quarter": _balance,
    "balance_half": _balance,
    "balance_three_quarters": _balance,
    "drag": _drag,
    "sensor_offset": _sensor_offset,
    "travel_open_seconds": _of_baseline("travel_open_seconds", WATCH_SECONDS, ACT_SECONDS),
    "travel_close_seconds": _of_baseline("travel_close_seconds", WATCH_SECONDS, ACT_SECONDS),
}
