"""Every failure mode that the tree can reach ends in its verdict, on four kinds of truck."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from inspections.codes import FAILURE_MODES
from inspections.quantities import QUANTITIES
from inspections.tracing.tree import TREE
from tests.inspections.tracing.simulated_door import TRUCKS, Door, Trace, Truck, begun, with_truck

# No question of the tree could tell these apart, and no complaint is theirs alone:
BEYOND_THE_TREE = {
    # A cable that hangs out carries its current: every voltage and the flexing test pass. It is
    # seen at the quarterly look (task COI) and in an inspection (the coil cable's condition).
    "FM16": "coil_cable",
    # A sticking slider pulls at the cable; what it breaks is FM14, which is traced. The slider
    # itself is moved by hand at the same quarterly look.
    "FM17": "slider",
    # Water shows as whatever it wets, at random: the trace ends at that board, contact or plug,
    # and the box is found wet when it is opened.
    "FM39": "gasket",
}


@dataclass(frozen=True)
class Case:
    """A failure mode as it shows, and where it has to end."""

    mode: str
    symptom: str
    door: Door
    verdict: str
    stops: bool = False
    parts: tuple[str, ...] = ()

    def traced(self) -> Trace:
        """The trace of this case, answered on to its verdict."""
        whole = begun(self.symptom, self.door)
        whole.on_to_a_verdict(self.door)
        return whole

    def __str__(self) -> str:
        return f"{self.mode}-{self.symptom}-{self.verdict}"


CASES = (
    Case("FM01", "S2", Door(cell_volts=2.4), "V01", parts=("remote_battery",)),
    Case("FM01", "S1", Door(reacts=True, alike=False, only_remote=True, cell_volts=2.6), "V01"),
    Case("FM02", "S2", Door(), "V02", parts=("remote",)),
    Case("FM03", "S2", Door(spare_works=False), "V03", parts=("receiver",)),
    Case("FM04", "S1", Door(reacts=True, alike=False), "V04", parts=("switch",)),
    Case("FM04", "S13", Door(switches_open=False), "V04", parts=("switch",)),
    Case("FM05", "S1", Door(rest_volts=11.9, loaded_volts=10.4), "V10"),
    Case("FM05", "S1", Door(rest_volts=12.3, loaded_volts=10.9), "V10"),
    Case("FM05", "S4", Door(rest_volts=12.4, loaded_volts=11.2), "V10"),
    Case("FM05", "S3", Door(rest_volts=11.0, loaded_volts=9.8, converter="dead"), "V10"),
    Case("FM06", "S1", Door(feed_loss_volts=2.5), "V11", parts=("supply_feed", "fuse_holder")),
    Case("FM06", "S1", Door(feed_loss_volts=12.0, converter="dead"), "V11"),
    Case("FM06", "S4", Door(feed_loss_volts=2.2, converter_sag_volts=6.0), "V11"),
    Case("FM06", "S6", Door(feed_loss_volts=12.0, converter="dead", closed_led="board_dark"),
         "V11"),
    Case("FM06", "S10", Door(lug_loss_volts=0.6), "V11"),
    Case("FM07", "S1", Door(converter="through"), "V12", parts=("converter",)),
    Case("FM07", "S4", Door(converter="through"), "V12"),
    Case("FM08", "S1", Door(converter="dead"), "V14", parts=("converter",)),
    Case("FM08", "S3", Door(converter="dead"), "V14"),
    Case("FM09", "S4", Door(converter_sag_volts=6.0), "V21", parts=("converter",)),
    Case("FM10", "S1", Door(fuse_whole=False), "V19", parts=("fuse",)),
    Case("FM11", "S1", Door(holder_clean=False), "V11", parts=("supply_feed", "fuse_holder")),
    Case("FM11", "S1", Door(holder_clean=False, fuse_whole=False), "V11",
         parts=("supply_feed", "fuse_holder", "fuse")),
    Case("FM11", "S10", Door(lugs_look_good=False, lug_loss_volts=0.4), "V11"),
    Case("FM12", "S1", Door(led_lit=False), "V16", parts=("control_board",)),
    Case("FM13", "S3", Door(output=(0.99, 0.0, 0.0)), "V20", parts=("control_board",)),
    Case("FM13", "S7", Door(output=(0.99, 0.99, 0.99)), "V20", stops=True),
    Case("FM13", "S13", Door(), "V20", stops=True),
    Case("FM14", "S3", Door(cable_loss_volts=9.0, motor_turns=False), "V23",
         parts=("coil_cable",)),
    Case("FM14", "S10", Door(dip_volts=4.0, dip_where="coil"), "V23"),
    Case("FM15", "S10", Door(dip_volts=3.0), "V23"),
    Case("FM15", "S1", Door(fuse_whole=False, insulated=False), "V18",
         parts=("coil_cable", "fuse")),
    Case("FM15", "S1", Door(converter="latched", insulated=False), "V18"),
    Case("FM18", "S3", Door(cable_loss_volts=5.0, plug_loss_volts=1.5), "V24",
         parts=("connector",)),
    Case("FM18", "S10", Door(dip_volts=2.0, dip_where="plug"), "V24"),
    Case("FM18", "S1", Door(wiring_loss_volts=6.0), "V17", parts=("connector",)),
    Case("FM19", "S3", Door(cable_loss_volts=0.0, motor_turns=False, amps=0.0), "V25",
         parts=("motor",)),
    Case("FM20", "S3", Door(motor_turns=False, amps=22.0, motor_free=False), "V25"),
    # Turns freely, draws too much: only once the door is known to be free is it the motor.
    Case("FM20", "S3", Door(motor_turns=False, amps=22.0), "V25"),
    Case("FM20", "S1", Door(fuse_whole=False, fuse_blows_again=True, motor_insulated=False),
         "V25"),
    Case("FM21", "S7", Door(open_led=False, target_helps=True), "V40"),
    Case("FM21", "S5", Door(open_led=False, unplugging_helps=True), "V41",
         parts=("open_sensor",)),
    Case("FM22", "S5", Door(closed_led="wrong", target_helps=True), "V40"),
    Case("FM22", "S6", Door(closed_led="wrong", unplugging_helps=True), "V41",
         parts=("closed_sensor",)),
    Case("FM22", "S9", Door(lamp_right=False, closed_led="wrong", unplugging_helps=True), "V41",
         parts=("closed_sensor",)),
    Case("FM23", "S9", Door(lamp_right=False), "V45", parts=("ajar_lamp",)),
    Case("FM24", "S8", Door(drift_mm=(200, 260, 180), moves="sinks"), "V32", stops=True,
         parts=("spring", "lift_cable")),
    Case("FM24", "S4", Door(drift_mm=(200, 260, 180), moves="sinks"), "V32", stops=True),
    Case("FM25", "S8", Door(first_look=False), "V90", stops=True),
    Case("FM25", "S1", Door(first_look=False), "V90", stops=True),
    Case("FM26", "S8", Door(drift_mm=(20, 90, 300), moves="rises"), "V33", stops=True),
    Case("FM26", "S11", Door(drift_mm=(20, 90, 300), moves="rises"), "V33", stops=True),
    Case("FM27", "S8", Door(first_look=False), "V90", stops=True),
    Case("FM28", "S8", Door(moves="crooked"), "V34", stops=True, parts=("lift_cable",)),
    Case("FM29", "S11", Door(drag=(180, 40)), "V31"),
    Case("FM30", "S11", Door(drag=(120, 45)), "V31"),
    Case("FM31", "S5", Door(drag=(95, 70)), "V31"),
    Case("FM32", "S6", Door(motor_turns=False, amps=17.0, drag=(240, 190), free_by_hand=False),
         "V31"),
    Case("FM33", "S11", Door(drag=(210, 150)), "V31"),
    Case("FM34", "S7", Door(linkage_good=False), "V36", parts=("turnbuckle", "manual_release")),
    Case("FM35", "S3", Door(linkage_good=False), "V36"),
    Case("FM36", "S1", Door(reacts=True, travels=True, final_check=False, wrong="no_reverse",
                            settings_good=False), "V43"),
    Case("FM37", "S5", Door(settings_good=False), "V43"),
    Case("FM38", "S12", Door(counts=0), "V50", parts=("counter", "control_board")),
)  # fmt: skip

# Verdicts that no mode of the catalogue names by itself.
OTHER_CASES = (
    Case("", "S1", Door(reacts=True, alike=False, bridge_works=False), "V05"),
    Case("", "S1", Door(converter="high"), "V15", parts=("converter",)),
    Case("", "S5", Door(closed_led="wrong"), "V42", parts=("control_board",)),
    Case("", "S7", Door(open_led=False), "V42"),
)
ALL_CASES = (*CASES, *OTHER_CASES)


@pytest.mark.parametrize("truck", TRUCKS.values(), ids=TRUCKS)
@pytest.mark.parametrize("case", ALL_CASES, ids=str)
def test_a_failure_mode_ends_in_its_verdict(case: Case, truck: Truck) -> None:
    # A battery that is weak only with the engine off does not show while the engine charges it:
    # with the engine running, the weak supply is one whose charging has failed.
    door = with_truck(case.door, truck)
    position = begun(case.symptom, door).on_to_a_verdict(door)
    assert position.verdict == case.verdict
    assert position.is_hard_stop is case.stops
    assert not position.is_unproven
    if case.parts:
        assert position.components == case.parts


@pytest.mark.parametrize("truck", TRUCKS.values(), ids=TRUCKS)
@pytest.mark.parametrize("case", ALL_CASES, ids=str)
def test_once_repaired_the_trace_closes_with_a_working_door(case: Case, truck: Truck) -> None:
    door = with_truck(case.door, truck)
    traced = begun(case.symptom, door)
    traced.on_to_a_verdict(door)
    closed = traced.repair(door)
    assert closed.verdict == "V00"
    assert not closed.escalate


def test_every_reachable_mode_is_simulated() -> None:
    simulated = {case.mode for case in CASES}
    assert simulated == set(FAILURE_MODES) - set(BEYOND_THE_TREE)


def test_every_verdict_comes_from_readings_of_some_door() -> None:
    # The rest are no fault of a door: it works, or nothing was found.
    assert {case.verdict for case in ALL_CASES} == set(TREE.verdicts) - {"V00", "V39"}


def test_every_question_is_asked_at_some_door() -> None:
    asked = set()
    for case in ALL_CASES:
        traced = begun(case.symptom, case.door)
        traced.on_to_a_verdict(case.door)
        traced.repair(case.door)
        asked |= {answer.node for answer in traced.answers}
    assert asked >= {code for code, node in TREE.nodes.items() if not node.is_automatic}


def test_a_converter_that_latched_off_is_not_replaced() -> None:
    door = Door(converter="latched")
    position = begun("S1", door).on_to_a_verdict(door)
    assert position.outcomes["N13"] == "pass"
    assert position.outcomes["N16"] == "pass"
    assert position.verdict not in ("V12", "V14", "V15")


def test_a_converter_without_boost_on_a_charging_truck_is_told_from_one_out_of_regulation() -> None:
    # 14 V out is near its own input, and 2 V above that of a truck at rest.
    door = Door(TRUCKS["12 V, engine running"], converter="through")
    traced = begun("S1", door)
    position = traced.on_to_a_verdict(door)
    assert position.known["N12.output_volts"] > 13.0
    assert position.verdict == "V12"
    high = Door(TRUCKS["12 V, engine running"], converter="high")
    assert begun("S1", high).on_to_a_verdict(high).verdict == "V15"


def test_a_fault_that_is_not_there_ends_as_such() -> None:
    door = Door()
    assert begun("S1", door).on_to_a_verdict(door).verdict == "V39"
    assert begun("S1", Door(reacts=True, travels=True)).on_to_a_verdict(
        Door(reacts=True, travels=True)
    ).verdict == "V00"  # fmt: skip


def test_what_the_tree_does_not_reach_has_no_verdict_of_its_own() -> None:
    proposed = {part.component for each in TREE.verdicts.values() for part in each.parts}
    for mode, code in BEYOND_THE_TREE.items():
        assert FAILURE_MODES[mode].component == code
    assert not {"slider", "gasket"} & proposed
    # The sagging coil shares its component with two modes that are traced.
    assert QUANTITIES["cable_condition"].consequence.task == "COI"
