"""What is measured on a door: units, plausible values, and what a value past its limit leads to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetdoors.units_in_use import in_words_lazy


class Group(StrEnum):
    """Quantities that are measured in one go."""

    LOOK = "look"
    SUPPLY = "supply"
    DRIVE = "drive"
    BALANCE = "balance"
    TRAVEL = "travel"


GROUP_NAMES = {
    Group.LOOK: _("Look and try"),
    Group.SUPPLY: _("Battery and converter"),
    Group.DRIVE: _("Board, cable and motor"),
    Group.BALANCE: _("Balance and drag, by hand"),
    Group.TRAVEL: _("Travel and sensors"),
}

# Grades of what is looked at: a value above 0 is near, above 1 past.
RIGHT, WORN, WRONG = 0.0, 1.0, 2.0
GRADES = ((RIGHT, _("as it should be")), (WORN, _("shows wear")), (WRONG, _("not as it should be")))
YES_OR_NO = ((RIGHT, _("yes")), (WRONG, _("no")))


@dataclass(frozen=True)
class Consequence:
    """What a value past its limit opens: a fault (by mode) or a task, and perhaps a road hold."""

    mode: str = ""
    complaint: str = ""
    task: str = ""
    hold: str = ""
    loses_function: bool = False


@dataclass(frozen=True)
class Quantity:
    """One quantity of an inspection; `grades` empty means that a number is measured."""

    code: str
    # A text in the language, and in the units, of whoever reads it.
    name: Promise | str
    unit: str
    group: Group
    consequence: Consequence
    cautions: tuple[str, ...]
    # A quantity of typed_values, for what a hurried thumb may have meant; "" for a grade.
    typed_as: str = ""
    grades: tuple[tuple[float, Promise], ...] = ()
    with_current: bool = False
    is_powered: bool = False


_LIVE = ("C4",)
_SPRING = ("C1", "C8", "C2")

_ALL = (
    Quantity(
        "spring",
        _("Spring whole, no gap between coils"),
        "",
        Group.LOOK,
        Consequence(mode="FM25", loses_function=True, hold="spring_or_cable"),
        _SPRING,
        "",
        GRADES,
    ),
    Quantity(
        "lift_cables",
        _("Lift cables whole and on their drums"),
        "",
        Group.LOOK,
        Consequence(mode="FM27", loses_function=True, hold="spring_or_cable"),
        _SPRING,
        "",
        GRADES,
    ),
    Quantity(
        "secures",
        _("Door latches and stays shut"),
        "",
        Group.LOOK,
        Consequence(complaint="S5", loses_function=True, hold="not_secured"),
        ("C2",),
        "",
        YES_OR_NO,
    ),
    Quantity(
        "cable_condition",
        _("Coil cable hangs and re-coils freely, no chafe"),
        "",
        Group.LOOK,
        Consequence(task="COI"),
        ("C3", "C7"),
        "",
        GRADES,
    ),
    Quantity(
        "reverse_function",
        in_words_lazy(_("Goes back from a 25 mm block within 2 s")),
        "",
        Group.LOOK,
        Consequence(mode="FM36", loses_function=True, hold="reverse"),
        ("C2", "C9"),
        "",
        YES_OR_NO,
        is_powered=True,
    ),
    Quantity(
        "ajar_lamp",
        _("Ajar lamp agrees with the door"),
        "",
        Group.LOOK,
        Consequence(mode="FM23", loses_function=True),
        ("C2",),
        "",
        YES_OR_NO,
    ),
    Quantity(
        "manual_release",
        _("Manual release works and latches again"),
        "",
        Group.LOOK,
        Consequence(mode="FM35", loses_function=True),
        ("C2",),
        "",
        YES_OR_NO,
    ),
    Quantity(
        "battery_rest",
        _("Battery at rest"),
        "V",
        Group.SUPPLY,
        Consequence(mode="FM05"),
        ("C11",),
        "battery_volts",
    ),
    Quantity(
        "battery_running",
        _("Battery while the door runs"),
        "V",
        Group.SUPPLY,
        Consequence(mode="FM05"),
        ("C11",),
        "battery_volts",
        is_powered=True,
    ),
    Quantity(
        "converter_input",
        _("Converter input while the door runs"),
        "V",
        Group.SUPPLY,
        Consequence(mode="FM06"),
        _LIVE,
        "battery_volts",
        is_powered=True,
    ),
    Quantity(
        "converter_no_load",
        _("Converter output, door standing"),
        "V",
        Group.SUPPLY,
        Consequence(mode="FM07"),
        _LIVE,
        "converter_volts",
    ),
    Quantity(
        "converter_running",
        _("Converter output while the door runs"),
        "V",
        Group.SUPPLY,
        Consequence(mode="FM09"),
        _LIVE,
        "converter_volts",
        is_powered=True,
    ),
    Quantity(
        "fuse",
        _("Board fuse, out of its holder"),
        "Ω",
        Group.DRIVE,
        Consequence(mode="FM10", loses_function=True),
        ("C5", "C3"),
        "ohms",
    ),
    Quantity(
        "board_output",
        _("Board output while the door runs"),
        "V",
        Group.DRIVE,
        Consequence(mode="FM13"),
        _LIVE,
        "converter_volts",
        is_powered=True,
    ),
    Quantity(
        "motor_end",
        _("At the motor while the door runs"),
        "V",
        Group.DRIVE,
        Consequence(mode="FM14"),
        ("C4", "C7"),
        "motor_volts",
        with_current=True,
        is_powered=True,
    ),
    Quantity(
        "motor_amps",
        _("Motor current while the door runs"),
        "A",
        Group.DRIVE,
        Consequence(mode="FM20"),
        _LIVE,
        "amps",
        is_powered=True,
    ),
    Quantity(
        "balance_quarter",
        _("Drift at a quarter open, 10 s, down is minus"),
        "mm",
        Group.BALANCE,
        Consequence(task="BAL"),
        ("C1", "C2", "C7"),
        "millimetres",
    ),
    Quantity(
        "balance_half",
        _("Drift at half open, 10 s, down is minus"),
        "mm",
        Group.BALANCE,
        Consequence(task="BAL"),
        ("C1", "C2", "C7"),
        "millimetres",
    ),
    Quantity(
        "balance_three_quarters",
        _("Drift at three quarters open, 10 s, down is minus"),
        "mm",
        Group.BALANCE,
        Consequence(task="BAL"),
        ("C1", "C2", "C7"),
        "millimetres",
    ),
    Quantity(
        "drag",
        _("Greatest pull along the travel"),
        "N",
        Group.BALANCE,
        Consequence(task="LUB"),
        ("C2", "C7"),
        "newtons",
    ),
    Quantity(
        "sensor_offset",
        _("Closed sensor comes on at this height"),
        "mm",
        Group.TRAVEL,
        Consequence(task="SEN"),
        ("C3", "C9"),
        "millimetres",
    ),
    Quantity(
        "travel_open_seconds",
        _("Seconds to open"),
        "s",
        Group.TRAVEL,
        Consequence(task="ELE"),
        ("C2",),
        "seconds",
        is_powered=True,
    ),
    Quantity(
        "travel_close_seconds",
        _("Seconds to close"),
        "s",
        Group.TRAVEL,
        Consequence(task="ELE"),
        ("C2",),
        "seconds",
        is_powered=True,
    ),
)
QUANTITIES = {quantity.code: quantity for quantity in _ALL}
QUANTITY_CHOICES = [(quantity.code, quantity.name) for quantity in _ALL]
