"""Invented measurements for the demo: doors that hold, two whose cable wears, one bad joint.

Values scatter as a hand-held meter and a stop-watch do; nothing was measured on a real door.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from inspections.electrical import cable_ohms, supply_factor
from inspections.limits import DoorFigures
from inspections.models import InspectionKind
from inspections.services.inspecting import InspectionFacts

ROUNDS_WITH_STORY, ROUNDS, SEED = 8, 4, 31
CABLE_WITHOUT_DATA_OHM = 0.1
CURRENT_AMPS, CURRENT_SCATTER, METER_VOLTS = 11.0, 0.3, 0.012
INSPECTOR = "Demo, invented values"


@dataclass(frozen=True)
class CableStory:
    """What became of a cable: how far it had risen after a share of the time."""

    worn_rise: float = 0.0
    loose_rise: float = 0.0

    def factor(self, share: float) -> float:
        """Resistance as a multiple of the value when new, at a share of the time, 0 to 1."""
        return 1 + self.worn_rise * share + (self.loose_rise if share >= 1 else 0.0)


SOUND = CableStory()
# Doors in the order given: a cable that wears, one that is worn, a joint that came loose.
STORIES = (CableStory(worn_rise=0.45), CableStory(worn_rise=0.9), CableStory(loose_rise=0.8))


@dataclass(frozen=True)
class InventedInspection:
    """One invented inspection: its facts, and value by quantity."""

    facts: InspectionFacts
    values: dict[str, float]


def invent_inspections(
    doors: Sequence[DoorFigures], *, first_at: datetime, last_at: datetime
) -> list[list[InventedInspection]]:
    """Eight inspections of each door with a story, four of the others, evenly spread.

    The same for the same doors and moments.
    """
    random = np.random.default_rng(SEED)
    invented = []
    for row, door in enumerate(doors):
        has_story = row < len(STORIES)
        story = STORIES[row] if has_story else SOUND
        shares = np.linspace(0.0, 1.0, ROUNDS_WITH_STORY if has_story else ROUNDS).tolist()
        invented.append(
            [
                _inspection(door, story, share, first_at + share * (last_at - first_at), random)
                for share in shares
            ]
        )
    return invented


def _inspection(
    door: DoorFigures,
    story: CableStory,
    share: float,
    begun_at: datetime,
    random: np.random.Generator,
) -> InventedInspection:
    amps = round(float(random.normal(CURRENT_AMPS, CURRENT_SCATTER)), 1)
    # Warm in July, cold in January, as in the north.
    season = np.cos(2 * np.pi * (begun_at.timetuple().tm_yday - 200) / 365)
    celsius = round(float(12 + 10 * season + random.normal(0, 2)))
    kind = InspectionKind.ROUTINE if share > 0 else InspectionKind.COMMISSIONING
    facts = InspectionFacts(
        begun_at=begun_at + timedelta(minutes=int(random.integers(0, 240))),
        inspector=INSPECTOR,
        kind=kind,
        amps=amps,
        celsius=float(celsius),
    )
    values = _electrics(door, story.factor(share), facts, random) | _mechanics(door, share, random)
    return InventedInspection(facts, values)


def _electrics(
    door: DoorFigures, rise: float, facts: InspectionFacts, random: np.random.Generator
) -> dict[str, float]:
    amps, celsius = facts.amps or CURRENT_AMPS, facts.celsius or 20.0
    known = door.cable_awg is not None and door.cable_metres is not None
    ohm = (
        cable_ohms(door.cable_awg or 0, door.cable_metres or 0.0, celsius)
        if known
        else CABLE_WITHOUT_DATA_OHM
    )
    factor = supply_factor(door.supply_volts)
    middle = (door.drive_volts_low + door.drive_volts_high) / 2
    running = middle - 0.3 + float(random.normal(0, 0.15))
    board = running - 0.2 - float(random.uniform(0, 0.2))
    rest = 12.65 + float(random.normal(0, 0.07))
    values = {
        "battery_rest": factor * rest,
        "battery_running": factor * (rest - 0.75 + float(random.normal(0, 0.08))),
        "converter_input": factor * (rest - 0.95 + float(random.normal(0, 0.06))),
        "converter_no_load": middle + float(random.normal(0, 0.2)),
        "converter_running": running,
        "board_output": board,
        "motor_end": board - amps * ohm * rise + float(random.normal(0, METER_VOLTS)),
        "motor_amps": amps,
    }
    return {code: round(value, 2) for code, value in values.items()}


def _mechanics(door: DoorFigures, share: float, random: np.random.Generator) -> dict[str, float]:
    """The spring slackens a little, dirt gathers, the door slows down."""
    slack = random.uniform(0, 30) * share
    drift = {
        f"balance_{place}": float(round(random.normal(-slack, 6)))
        for place in ("quarter", "half", "three_quarters")
    }
    return drift | {
        "drag": float(round(random.normal(68 + 14 * share, 5))),
        "sensor_offset": float(round(random.normal(door.sensor_offset_mm, 1.5))),
        "travel_open_seconds": round(float(random.normal(8.4 + 0.4 * share, 0.15)), 1),
        "travel_close_seconds": round(float(random.normal(9.1 + 0.4 * share, 0.15)), 1),
    }
