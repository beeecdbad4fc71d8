"""Invented names, codes and catalogue of the made fleet; none is a real company's or maker's."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.scenario import Socket

OWNER: Final = "Thistlemoor Parcel & Linen (invented company)"
BODY_MAKE: Final = "Invented Body Works"

_DEPOTS: Final = (
    ("CWY", "Candlewick Yard", "America/Chicago", "salt", 9.0),
    ("MPF", "Mosspenny Flats", "America/Denver", "dust", 6.5),
    ("HBC", "Harebell Cove", "America/New_York", "coast", 8.0),
    ("TGR", "Tanglerye", "America/Los_Angeles", "normal", 8.0),
    ("SLW", "Saltlarch Works", "America/New_York", "salt+coast", 10.0),
    ("DDG", "Dustergate", "America/Phoenix", "dust", 7.0),
    ("FRN", "Frostnettle", "America/Winnipeg", "salt+cold", 8.5),
    ("WSH", "Washbrook Lane", "America/Chicago", "wash_down", 6.0),
)


@dataclass(frozen=True)
class Depot:
    """A depot as its table row tells it."""

    code: str
    name: str
    timezone: str
    setting: str
    bay_hours_per_day: float


def depot(number: int) -> Depot:
    """The depot with that number; after the named ones their names come round with a number."""
    code, name, zone, setting, hours = _DEPOTS[number % len(_DEPOTS)]
    turn = number // len(_DEPOTS)
    if turn == 0:
        return Depot(code, name, zone, setting, hours)
    return Depot(f"{code}{turn + 1}", f"{name} {turn + 1}", zone, setting, hours)


SETTING_PACE: Final = {"dust": 0.55, "wash_down": 0.75, "salt": 0.75, "coast": 0.85, "cold": 0.85}


def visit_pace(number: int) -> float:
    """How much closer than usual a depot's shop puts its visits, for its setting."""
    words = depot(number).setting.split("+")
    return min(SETTING_PACE.get(word, 1.0) for word in words)


@dataclass(frozen=True)
class DoorModel:
    """A door model as its table row tells it."""

    code: str
    supply_volts: int
    counter_digits: int
    counts_per_cycle: int
    cable_awg: int
    cable_metres: float


DOOR_MODELS: Final = (
    DoorModel("FD12-L", 12, 5, 1, 14, 6.5),
    DoorModel("FD12-H", 12, 6, 2, 12, 8.0),
    DoorModel("FD24-L", 24, 5, 1, 14, 5.0),
    DoorModel("FD24-H", 24, 6, 1, 16, 5.0),
)


@dataclass(frozen=True)
class Part:
    """A catalogue row; `cycles_between` guesses its use, for the stock a made depot keeps."""

    number: str
    name: str
    component: str
    unit_cost: float
    lead_time_days: float
    lead_time_sd_days: float
    pack_size: int
    cycles_between: float
    models: tuple[str, ...] = ()
    shelf_life_days: int = -1
    revision: str = ""
    replaces: str = ""
    rating: str = ""


_V12: Final = ("FD12-L", "FD12-H")
_V24: Final = ("FD24-L", "FD24-H")
_BLADE: Final = "blade fuse; 20 A; 58 V DC"

PARTS: Final = (
    Part("FD-CONV-12-32", "Converter 12 V to 32 V", "converter", 165, 28, 9, 1, 4.1e4, _V12,
         revision="A", rating="12 V in; 32 V out; 15 A"),
    Part("FD-CONV-24-32", "Converter 24 V to 32 V", "converter", 182, 35, 11, 1, 4.1e4, _V24,
         revision="A", rating="24 V in; 32 V out; 15 A"),
    Part("FD-FUSE-20", "Board fuse 20 A", "fuse", 1.2, 3, 1, 10, 3e4, rating=_BLADE),
    Part("FD-BRD-5D", "Control board, 5-digit counter", "control_board", 310, 42, 14, 1, 1.15e5,
         ("FD12-L", "FD24-L")),
    Part("FD-BRD-6D", "Control board, 6-digit counter", "control_board", 345, 42, 14, 1, 1.15e5,
         ("FD12-H", "FD24-H")),
    Part("FD-COIL-14-65", "Coil cable AWG 14, 6.5 m", "coil_cable", 118, 21, 7, 1, 2.6e4,
         ("FD12-L",)),
    Part("FD-COIL-12-80", "Coil cable AWG 12, 8 m", "coil_cable", 164, 28, 9, 1, 2.6e4,
         ("FD12-H",)),
    Part("FD-COIL-14-50", "Coil cable AWG 14, 5 m", "coil_cable", 96, 21, 7, 1, 2.6e4,
         ("FD24-L",)),
    Part("FD-COIL-16-50", "Coil cable AWG 16, 5 m", "coil_cable", 82, 21, 7, 1, 2.6e4,
         ("FD24-H",)),
    Part("FD-MOT-L", "Drive motor, left", "motor", 235, 30, 10, 1, 6.2e4),
    Part("FD-MOT-R", "Drive motor, right", "motor", 235, 30, 10, 1, 6.2e4),
    Part("FD-SENS-25", "Position sensor with target", "closed_sensor", 24, 10, 4, 1, 5e4),
    Part("FD-SPR-25-L", "Spring, left wind", "spring", 88, 14, 5, 1, 1.6e4),
    Part("FD-SPR-25-R", "Spring, right wind", "spring", 88, 14, 5, 1, 1.6e4),
    Part("FD-ROLL-12", "Roller set, 12 rollers", "roller", 46, 6, 2, 1, 3.5e4),
    Part("FD-SW-2", "Wall switch, up and down", "switch", 27, 9, 3, 1, 4.2e4),
    Part("FD-LCAB-P", "Lift-cable pair", "lift_cable", 38, 8, 3, 1, 2e4),
    Part("FD-RBAT-3", "Remote battery 3 V", "remote_battery", 2.5, 2, 1, 5, 3e4,
         shelf_life_days=1095),
    Part("FD-CONN-K", "Connector kit", "connector", 9.5, 6, 2, 2, 6e4),
    Part("FD-SEAL-96", "Bottom seal, 96 inch", "bottom_seal", 34, 10, 4, 1, 5e4,
         shelf_life_days=1460),
    Part("FD-TRK-S", "Track section", "track", 120, 24, 9, 1, 3e5),
    Part("FD-LAMP-1", "Ajar lamp", "ajar_lamp", 14, 9, 3, 1, 1.1e5),
)  # fmt: skip

REVISED_PARTS: Final = (
    Part("FD-CONV-12-32-B", "Converter 12 V to 32 V, revision B", "converter", 158, 28, 9, 1,
         3e4, _V12, revision="B", replaces="FD-CONV-12-32", rating="12 V in; 32 V out; 15 A"),
    Part("FD-CONV-24-32-B", "Converter 24 V to 32 V, revision B", "converter", 175, 35, 11, 1,
         3e4, _V24, revision="B", replaces="FD-CONV-24-32", rating="24 V in; 32 V out; 15 A"),
)  # fmt: skip

CRITICAL: Final = ("converter", "fuse", "control_board", "coil_cable", "spring")


def part_numbers(sockets: tuple[Socket, ...]) -> NDArray[np.str_]:
    """Part number by socket, position in it, door model and revision, shape (s, 2, m, 2)."""
    table = np.empty((len(sockets), 2, len(DOOR_MODELS), 2), dtype="U20")
    for s, socket in enumerate(sockets):
        for place, position in enumerate(socket.positions):
            for m, model in enumerate(DOOR_MODELS):
                first = fitting(PARTS, socket.component, position, model.code)
                later = fitting(REVISED_PARTS, socket.component, position, model.code)
                table[s, place, m] = (first[0], (later or first)[0])
    return table


def fitting(parts: tuple[Part, ...], component: str, position: str, model: str) -> list[str]:
    """Part numbers that fill this component on this side of this model."""
    side = {"left": "-L", "right": "-R"}.get(position, "")
    return [
        part.number
        for part in parts
        if part.component == component
        and (not part.models or model in part.models)
        and part.number.endswith(side)
    ]


def numbered(prefix: str, numbers: NDArray[np.int64], most: int) -> NDArray[np.str_]:
    """Codes of even width, so that they sort as their numbers do."""
    width = max(4, len(str(most)))
    return np.char.add(prefix, np.char.zfill(numbers.astype(str), width))
