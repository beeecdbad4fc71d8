"""What is measured on a door: units, plausible values, and what a value past its limit leads to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


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
class Plausible:
    """Beyond `soft` a value is asked about, beyond `hard` it is refused."""

    soft_low: float
    soft_high: float
    hard_low: float
    hard_high: float


@dataclass(frozen=True)
class Consequence:
    """What a value past its limit opens: a fault (by mode) or a task, and perhaps a road hold."""

    mode: str = ""
    complaint: str = ""
    task: str = ""
    hold: str = ""


@dataclass(frozen=True)
class Quantity:
    """One quantity of an inspection; `grades` empty means that a number is measured."""

    code: str
    name: Promise
    unit: str
    group: Group
    consequence: Consequence
    cautions: tuple[str, ...]
    plausible: Plausible
    grades: tuple[tuple[float, Promise], ...] = ()
    scales_with_supply: bool = False
    with_current: bool = False
    task: str = ""


_GRADE_RANGE = Plausible(0, 2, 0, 2)
_SUPPLY = Plausible(10, 15, 0, 18)
_DRIVE = Plausible(0, 36, 0, 60)
_DRIFT = Plausible(-400, 400, -2500, 2500)
_LIVE = ("C4",)
_SPRING = ("C1", "C8", "C2")

_ALL = (
    Quantity("spring", _("Spring whole, no gap between coils"), "", Group.LOOK,
             Consequence(mode="FM25", hold="spring_or_cable"), _SPRING, _GRADE_RANGE, GRADES,
             task="LFT"),
    Quantity("lift_cables", _("Lift cables whole and on their drums"), "", Group.LOOK,
             Consequence(mode="FM27", hold="spring_or_cable"), _SPRING, _GRADE_RANGE, GRADES,
             task="LFT"),
    Quantity("secures", _("Door latches and stays shut"), "", Group.LOOK,
             Consequence(complaint="S5", hold="not_secured"), ("C2",), _GRADE_RANGE, YES_OR_NO),
    Quantity("cable_condition", _("Coil cable hangs and re-coils freely, no chafe"), "",
             Group.LOOK, Consequence(task="COI"), ("C3", "C7"), _GRADE_RANGE, GRADES, task="COI"),
    Quantity("reverse_function", _("Goes back from a 25 mm block within 2 s"), "", Group.LOOK,
             Consequence(mode="FM36", hold="reverse"), ("C2", "C9"), _GRADE_RANGE, YES_OR_NO,
             task="REV"),
    Quantity("ajar_lamp", _("Ajar lamp agrees with the door"), "", Group.LOOK,
             Consequence(mode="FM23"), ("C2",), _GRADE_RANGE, YES_OR_NO, task="REV"),
    Quantity("manual_release", _("Manual release works and latches again"), "", Group.LOOK,
             Consequence(mode="FM35"), ("C2",), _GRADE_RANGE, YES_OR_NO, task="REL"),
    Quantity("battery_rest", _("Battery at rest"), "V", Group.SUPPLY, Consequence(mode="FM05"),
             ("C11",), _SUPPLY, scales_with_supply=True, task="ELE"),
    Quantity("battery_running", _("Battery while the door runs"), "V", Group.SUPPLY,
             Consequence(mode="FM05"), ("C11",), _SUPPLY, scales_with_supply=True, task="ELE"),
    Quantity("converter_input", _("Converter input while the door runs"), "V", Group.SUPPLY,
             Consequence(mode="FM06"), _LIVE, _SUPPLY, scales_with_supply=True, task="ELE"),
    Quantity("converter_no_load", _("Converter output, door standing"), "V", Group.SUPPLY,
             Consequence(mode="FM07"), _LIVE, _DRIVE, task="ELE"),
    Quantity("converter_running", _("Converter output while the door runs"), "V", Group.SUPPLY,
             Consequence(mode="FM09"), _LIVE, _DRIVE, task="ELE"),
    Quantity("fuse", _("Board fuse, out of its holder"), "Ω", Group.DRIVE,
             Consequence(mode="FM10"), ("C5", "C3"), Plausible(0, 10, 0, 1e9), task="ELE"),
    Quantity("board_output", _("Board output while the door runs"), "V", Group.DRIVE,
             Consequence(mode="FM13"), _LIVE, _DRIVE, task="ELE"),
    Quantity("motor_end", _("At the motor while the door runs"), "V", Group.DRIVE,
             Consequence(mode="FM14"), ("C4", "C7"), Plausible(0, 36, 0, 60), with_current=True,
             task="ELE"),
    Quantity("motor_amps", _("Motor current while the door runs"), "A", Group.DRIVE,
             Consequence(mode="FM20"), _LIVE, Plausible(1, 40, 0, 200), task="ELE"),
    Quantity("balance_quarter", _("Drift at a quarter open, 10 s, down is minus"), "mm",
             Group.BALANCE, Consequence(task="BAL"), ("C1", "C2", "C7"), _DRIFT, task="BAL"),
    Quantity("balance_half", _("Drift at half open, 10 s, down is minus"), "mm",
             Group.BALANCE, Consequence(task="BAL"), ("C1", "C2", "C7"), _DRIFT, task="BAL"),
    Quantity("balance_three_quarters", _("Drift at three quarters open, 10 s, down is minus"),
             "mm", Group.BALANCE, Consequence(task="BAL"), ("C1", "C2", "C7"), _DRIFT,
             task="BAL"),
    Quantity("drag", _("Greatest pull along the travel"), "N", Group.BALANCE,
             Consequence(task="LUB"), ("C2", "C7"), Plausible(5, 400, 0, 500), task="BAL"),
    Quantity("sensor_offset", _("Closed sensor comes on at this height"), "mm", Group.TRAVEL,
             Consequence(task="SEN"), ("C3", "C9"), Plausible(0, 100, 0, 2500), task="SEN"),
    Quantity("travel_open_seconds", _("Seconds to open"), "s", Group.TRAVEL,
             Consequence(task="ELE"), ("C2",), Plausible(3, 60, 0.5, 300), task="ELE"),
    Quantity("travel_close_seconds", _("Seconds to close"), "s", Group.TRAVEL,
             Consequence(task="ELE"), ("C2",), Plausible(3, 60, 0.5, 300), task="ELE"),
)  # fmt: skip
QUANTITIES = {quantity.code: quantity for quantity in _ALL}
QUANTITY_CHOICES = [(quantity.code, quantity.name) for quantity in _ALL]
