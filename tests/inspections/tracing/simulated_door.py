"""A door with a fault: what every test of the tree would read at it.

The readings are worked out here from a few physical quantities, not from the tree: battery, feed,
converter, board, cable, motor, and the look of the rest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from inspections.tracing.answers import Answer
from inspections.tracing.context import Context
from inspections.tracing.elements import Kind
from inspections.tracing.engine import Position, trace
from inspections.tracing.tree import TREE

MOST_QUESTIONS = 60


@dataclass(frozen=True)
class Truck:
    """What feeds the door: volts as a 12 V truck would read them, doubled at 24 V."""

    supply_volts: float = 12.0
    engine_running: bool = False

    @property
    def rest(self) -> float:
        return 14.2 if self.engine_running else 12.7

    @property
    def loaded(self) -> float:
        return 13.9 if self.engine_running else 12.3


TRUCKS = {
    "12 V": Truck(),
    "12 V, engine running": Truck(engine_running=True),
    "24 V": Truck(24.0),
    "24 V, engine running": Truck(24.0, engine_running=True),
}


@dataclass(frozen=True)
class Door:
    """Quantities of one door; the defaults are a sound one. Supply volts as of a 12 V truck."""

    truck: Truck = Truck()
    # Given in place of the truck's own where the battery or its charging is at fault.
    rest_volts: float | None = None
    loaded_volts: float | None = None
    feed_loss_volts: float = 0.3
    # "good", "through" passes its input on, "dead", "latched" until its input was off, "high".
    converter: str = "good"
    converter_sag_volts: float = 1.2
    fuse_whole: bool = True
    fuse_blows_again: bool = False
    holder_clean: bool = True
    wiring_loss_volts: float = 0.1
    led_lit: bool = True
    insulated: bool = True
    # Shares of the bus that the board hands on: opening, closing, after the stop.
    output: tuple[float, float, float] = (0.99, 0.99, 0.0)
    cable_loss_volts: float = 0.9
    plug_loss_volts: float = 0.05
    dip_volts: float = 0.2
    dip_where: str | None = None
    lug_loss_volts: float = 0.05
    lugs_look_good: bool = True
    motor_turns: bool = True
    amps: float = 9.0
    motor_free: bool = True
    motor_insulated: bool = True
    closed_led: str = "right"
    open_led: bool = True
    target_helps: bool = False
    unplugging_helps: bool = False
    sensors_agree: bool = True
    runs_clean: bool = False
    lamp_right: bool = True
    drift_mm: tuple[float, float, float] = (20.0, 15.0, 25.0)
    moves: str = "holds"
    drag: tuple[float, float] = (70.0, 25.0)
    free_by_hand: bool = True
    linkage_good: bool = True
    settings_good: bool = True
    counts: int = 3
    cell_volts: float = 3.0
    spare_works: bool = True
    bridge_works: bool = True
    switches_open: bool = True
    first_look: bool = True
    reacts: bool = False
    alike: bool = True
    only_remote: bool = False
    travels: bool = False
    wrong: str = "no_motion"
    final_check: bool = True

    @property
    def bus(self) -> float:
        """The converter's output under load."""
        if self.converter in ("dead", "latched"):
            return 0.3
        if self.converter == "through":
            return self.input_loaded * self.truck.supply_volts / 12 - 0.6
        return 32.1 - self.converter_sag_volts

    @property
    def loaded(self) -> float:
        return self.truck.loaded if self.loaded_volts is None else self.loaded_volts

    @property
    def rest(self) -> float:
        return self.truck.rest if self.rest_volts is None else self.rest_volts

    @property
    def input_loaded(self) -> float:
        return self.loaded - self.feed_loss_volts

    @property
    def context(self) -> Context:
        return Context(
            supply_volts=self.truck.supply_volts,
            engine_running=self.truck.engine_running,
            cable_awg=14,
            cable_metres=6.5,
            motor_baseline_amps=9.0,
        )

    def _at_rest(self) -> dict[str, float]:
        factor = self.truck.supply_volts / 12
        # Without current nothing is lost on the way, unless the way is open.
        idle = self.rest * factor if self.feed_loss_volts < 5 else 0.2
        output = {"good": 32.1, "through": idle - 0.5, "high": 34.9}.get(self.converter, 0.3)
        return {"input_volts": idle, "output_volts": output}

    def _supply(self) -> dict[str, dict[str, Any]]:
        factor = self.truck.supply_volts / 12
        posts = {
            "input_volts": self.input_loaded * factor,
            "battery_volts": self.loaded * factor,
        }
        return {
            "N10": {"battery_volts": self.rest * factor},
            "N11": posts,
            "N21": posts,
            "N32": {"rest_volts": self.rest * factor, "running_volts": self.loaded * factor},
            "N12": self._at_rest(),
            "N13": {"output_volts": 32.0 if self.converter in ("good", "latched") else 0.3},
            "N19": {"output_volts": self.bus},
        }

    def _drive(self) -> dict[str, dict[str, Any]]:
        bus = self.bus - self.wiring_loss_volts
        opening, closing, stopped = (
            (0.0, 0.0, 0.0) if self.fuse_blows_again else (share * bus for share in self.output)
        )
        board = max(opening, closing)
        return {
            "N14": {"conducts": self.fuse_whole, "holder_clean": self.holder_clean},
            "N15": {
                "board_volts": self._at_rest()["output_volts"] - self.wiring_loss_volts,
                "led_lit": self.led_lit,
            },
            "N16": {"insulated": self.insulated},
            "N17": {
                "bus_volts": bus,
                "opening_volts": opening,
                "closing_volts": closing,
                "flips": True,
                "stopped_volts": stopped,
            },
            "N18": {
                "board_volts": board,
                "motor_volts": board - self.cable_loss_volts,
                "amps": self.amps,
                "celsius": 5.0,
            },
            "N24": {"plug_volts": self.plug_loss_volts},
            "N26": {
                "amps": self.amps,
                "turns": self.motor_free,
                "insulated": self.motor_insulated,
            },
            "N70": {"dip_volts": self.dip_volts, "where": self.dip_where},
            "N71": {"drop_volts": self.lug_loss_volts, "looks_good": self.lugs_look_good},
        }

    def _rest_of_it(self) -> dict[str, dict[str, Any]]:
        quarter, half, three_quarters = self.drift_mm
        return {
            "N04": {"cell_volts": self.cell_volts},
            "N31": {"what": self.wrong},
            "N40": {"led": self.closed_led},
            "N50": {
                "moves": self.moves,
                "quarter_mm": quarter,
                "half_mm": half,
                "three_quarters_mm": three_quarters,
            },
            "N51": {"peak_newtons": self.drag[0], "spread_newtons": self.drag[1]},
            "N61": {"counter_before": 41_872, "counter_after": 41_872 + self.counts},
        }

    def _looks(self) -> dict[str, bool]:
        return {
            "N00": self.first_look,
            "N01": self.reacts,
            "N02": self.alike,
            "N03": self.only_remote,
            "N05": self.spare_works,
            "N06": self.bridge_works,
            "N20": self.sensors_agree,
            "N22": self.free_by_hand,
            "N25": self.motor_turns,
            "N27": self.switches_open,
            "N30": self.travels,
            "N41": self.open_led,
            "N42": self.target_helps,
            "N43": self.runs_clean,
            "N44": self.unplugging_helps,
            "N45": self.lamp_right,
            "N46": self.closed_led == "right",
            "N53": self.linkage_good,
            "N55": self.settings_good,
            "N60": self.final_check,
        }

    def answer(self, code: str) -> Answer:
        """What a technician would answer to this node at this door."""
        if TREE.nodes[code].kind is Kind.YES_NO:
            return Answer(code, "yes" if self._looks()[code] else "no")
        readings = self._supply() | self._drive() | self._rest_of_it()
        return Answer(code, "measured", readings[code])


def repaired(door: Door) -> Door:
    """The same door without its fault."""
    return Door(door.truck, reacts=True, travels=True, runs_clean=True)


@dataclass
class Trace:
    """One trace in the making."""

    symptom: str
    context: Context
    answers: list[Answer]

    def position(self) -> Position:
        return trace(self.symptom, self.answers, self.context)

    def on_to_a_verdict(self, door: Door) -> Position:
        """Answer as this door would, until there is a verdict."""
        for _ in range(MOST_QUESTIONS):
            position = self.position()
            if position.node is None:
                return position
            self.answers.append(door.answer(position.node))
        raise AssertionError(f"No verdict after {MOST_QUESTIONS} questions: {self.answers}")

    def repair(self, door: Door) -> Position:
        """Do as the verdict says, sign where it stopped, and go on as the sound door would."""
        position = self.position()
        sound = repaired(door)
        for _ in range(MOST_QUESTIONS):
            if position.is_closed:
                return position
            if position.is_hard_stop:
                self.answers.append(Answer(str(position.verdict), "signed", reason="T. Rained"))
            else:
                self.answers.append(sound.answer(str(position.node or position.next_node)))
            position = self.position()
        raise AssertionError(f"Not closed after {MOST_QUESTIONS} steps: {self.answers}")


def begun(symptom: str, door: Door) -> Trace:
    """A trace at this door before its first answer."""
    return Trace(symptom, door.context, [])


def with_truck(door: Door, truck: Truck) -> Door:
    """The same fault on another truck."""
    return replace(door, truck=truck)
