"""The rules of a trace: what is asked, skipped, refused, cleared, left unproven, given up."""

from __future__ import annotations

from typing import Any

import pytest

from inspections.electrical import allowed_drop, cable_drop_volts
from inspections.tracing.answers import REFUSALS, Answer, AnswerRefusedError
from inspections.tracing.context import Context
from inspections.tracing.engine import Position, allowed_jumps, trace
from inspections.tracing.limits import limits_of
from inspections.tracing.predicates import evaluate
from inspections.tracing.tree import TREE

PLAIN = Context()
LOOKED = Answer("N00", "yes")


def yes(node: str, reason: str = "") -> Answer:
    return Answer(node, "yes", reason=reason)


def no(node: str, reason: str = "") -> Answer:
    return Answer(node, "no", reason=reason)


def read(node: str, reason: str = "", **values: Any) -> Answer:
    return Answer(node, "measured", values, reason)


def unknown(node: str, **values: Any) -> Answer:
    return Answer(node, "cannot_tell", values)


def at(symptom: str, *answers: Answer, context: Context = PLAIN) -> Position:
    return trace(symptom, answers, context)


def refused(symptom: str, *answers: Answer) -> tuple[str, int]:
    with pytest.raises(AnswerRefusedError) as error:
        at(symptom, *answers)
    assert str(error.value) == f"Answer {error.value.index}: {REFUSALS[error.value.code]}"
    return error.value.code, error.value.index


BATTERY = read("N10", battery_volts=12.6)
FEED = read("N11", input_volts=12.0, battery_volts=12.3)
GOOD_CONVERTER = read("N12", output_volts=32.1, input_volts=12.6)
GOOD_FUSE = read("N14", conducts=True, holder_clean=True)
BALANCED = read("N50", moves="holds", quarter_mm=10, half_mm=10, three_quarters_mm=20)
OUTPUT = read(
    "N17", bus_volts=32.0, opening_volts=32.0, closing_volts=32.0, flips=True, stopped_volts=0.0
)
TO_CONVERTER = (LOOKED, no("N01"), BATTERY, FEED)
TO_BOARD = (*TO_CONVERTER, GOOD_CONVERTER, GOOD_FUSE, read("N15", board_volts=32.0, led_lit=True))


@pytest.mark.parametrize(
    ("symptom", "second"),
    [("S1", "N01"), ("S2", "N04"), ("S3", "N12"), ("S4", "N32"), ("S5", "N40"), ("S6", "N40"),
     ("S7", "N40"), ("S8", "N50"), ("S9", "N45"), ("S10", "N70"), ("S11", "N50"), ("S12", "N61"),
     ("S13", "N27")],
)  # fmt: skip
def test_every_complaint_begins_with_the_look_and_then_at_its_own_entry(
    symptom: str, second: str
) -> None:
    assert at(symptom).node == "N00"
    assert at(symptom, LOOKED).node == second
    stopped = at(symptom, no("N00"))
    assert (stopped.verdict, stopped.is_hard_stop) == ("V90", True)


def test_will_not_open_goes_from_the_glance_at_the_led_to_the_converter() -> None:
    assert at("S6", LOOKED, read("N40", led="right")).node == "N12"
    assert at("S5", LOOKED, read("N40", led="right")).node == "N41"
    dark = read("N40", led="board_dark")
    assert at("S6", LOOKED, dark).node == "N12"
    # Once the converter was measured a dark LED is a fault of its own.
    assert at("S1", *TO_BOARD, Answer("N40", "measured", dark.values, "look")).node == "N42"
    assert at("S6", LOOKED, read("N40", led="wrong")).node == "N42"


@pytest.mark.parametrize(
    ("output", "measured_input", "leads_to"),
    [(32.1, 12.6, "N14"), (30.4, 12.6, "N14"), (33.6, 12.6, "N14"), (12.3, 12.6, "V12"),
     (13.4, 14.2, "V12"), (13.4, 12.0, "V15"), (0.4, 12.6, "N13"), (24.0, 12.6, "V15"),
     (34.6, 12.6, "V15")],
)  # fmt: skip
def test_converter_against_its_measured_input(
    output: float, measured_input: float, leads_to: str
) -> None:
    answer = read("N12", output_volts=output, input_volts=measured_input)
    position = at("S1", *TO_CONVERTER, answer)
    assert leads_to in (position.node, position.verdict)


def test_a_converter_with_a_low_input_is_not_condemned() -> None:
    low = read("N12", output_volts=0.3, input_volts=9.8)
    position = at("S3", LOOKED, low)
    assert position.node == "N10"
    assert position.outcomes["N12"] == "cannot_tell"
    # The supply holds after all: the converter is read anew, and now a low reading counts.
    assert at("S3", LOOKED, low, BATTERY, FEED).node == "N12"
    assert at("S3", LOOKED, low, BATTERY, FEED, low).node == "N13"
    weak = at("S3", LOOKED, low, read("N10", battery_volts=11.5))
    assert weak.verdict == "V10"


@pytest.mark.parametrize(
    ("supply", "battery", "verdict"), [(12.0, 12.1, "V10"), (24.0, 24.3, "V10"), (24.0, 24.5, None)]
)
def test_battery_limits_follow_the_supply(
    supply: float, battery: float, verdict: str | None
) -> None:
    position = at(
        "S1", LOOKED, no("N01"), read("N10", battery_volts=battery),
        context=Context(supply_volts=supply),
    )  # fmt: skip
    assert position.verdict == verdict


def test_a_battery_read_with_the_engine_running_proves_nothing_about_its_charge() -> None:
    position = at(
        "S1", LOOKED, no("N01"), read("N10", battery_volts=14.1),
        context=Context(engine_running=True),
    )  # fmt: skip
    assert position.outcomes["N10"] == "near"
    assert "engine running" in position.steps[-1].note


def test_the_makers_limits_of_the_door_model_count() -> None:
    other = Context(drive_volts=36.0, drive_volts_low=35.0, drive_volts_high=37.0)
    answers = (*TO_CONVERTER, GOOD_CONVERTER)
    assert at("S1", *answers).node == "N14"
    assert at("S1", *answers, context=other).verdict == "V15"


CABLE = Context(cable_awg=14, cable_metres=8.0)


@pytest.mark.parametrize("celsius", [20.0, 60.0, None])
@pytest.mark.parametrize("amps", [0.0, 5.0, 15.0, 25.0, 40.0, None])
def test_allowed_cable_drop_is_the_one_of_the_electrics(
    amps: float | None, celsius: float | None
) -> None:
    known = CABLE.values() | {"N18.amps": amps, "N18.celsius": celsius}
    computed = None if amps is None else cable_drop_volts(amps, 14, 8.0, celsius or 20.0)
    limits = allowed_drop(computed)
    for name, expected in (("near", limits.near_volts), ("past", limits.past_volts)):
        found = evaluate(("value", f"drop_{name}_volts"), known, TREE.derived)
        assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("motor", "amps", "node", "outcome"),
    # 15 A over 8 m of AWG 14 computes to 1.99 V: near above 2.98 V, past above 3.98 V.
    [(29.1, 15.0, "N25", "pass"), (28.9, 15.0, "N25", "near"), (27.9, 15.0, "N24", "fail"),
     (30.2, None, "N25", "pass"), (29.5, None, "N25", "near"), (28.9, None, "N24", "fail")],
)  # fmt: skip
def test_volts_at_the_motor_end(motor: float, amps: float | None, node: str, outcome: str) -> None:
    end = read("N18", board_volts=32.0, motor_volts=motor, amps=amps)
    position = at("S1", *TO_BOARD, OUTPUT, end, context=CABLE)
    assert (position.node, position.outcomes["N18"]) == (node, outcome)


def test_a_cable_is_not_judged_without_volts_on_it() -> None:
    dead = read("N18", reason="quick look", board_volts=0.3, motor_volts=0.3)
    position = at("S1", LOOKED, dead)
    assert position.node == "N17"
    assert position.outcomes["N18"] == "cannot_tell"
    assert at("S1", LOOKED, dead, OUTPUT).node == "N18"


def test_answers_that_contradict_each_other_go_to_a_person_and_not_in_circles() -> None:
    # The board gives full volts and gives none; all else is good.
    dead = read("N18", board_volts=0.3, motor_volts=0.3)
    round_and_round = (
        *TO_BOARD, OUTPUT, dead, read("N19", output_volts=32.0), no("N20"),
        read("N40", led="right"), yes("N41"), no("N43"), BALANCED,
        read("N51", peak_newtons=60, spread_newtons=20), yes("N53"),
    )  # fmt: skip
    position = at("S1", *round_and_round)
    assert (position.verdict, position.escalate, position.is_closed) == ("V39", True, True)


def test_an_overload_that_no_measurement_finds_is_the_converter() -> None:
    sags = read(
        "N17", bus_volts=25.0, opening_volts=25, closing_volts=25, flips=True, stopped_volts=0.0
    )
    answers = (
        *TO_BOARD, sags, read("N19", output_volts=25.0),
        read("N21", input_volts=12.0, battery_volts=12.3), no("N22"),
    )  # fmt: skip
    assert at("S1", *answers).node == "N50"
    moves = (BALANCED, read("N51", peak_newtons=60, spread_newtons=20), yes("N53"))
    position = at("S1", *answers, *moves)
    assert (position.verdict, position.escalate) == ("V21", False)
    assert at("S1", *answers[:-1], yes("N22")).verdict == "V21"


def test_board_low_after_a_good_converter_is_the_wiring_between() -> None:
    low = read("N15", board_volts=27.0, led_lit=True)
    assert at("S1", *TO_CONVERTER, GOOD_CONVERTER, GOOD_FUSE, low).verdict == "V17"
    unmeasured = Answer("N15", "measured", {"board_volts": 27.0, "led_lit": True}, "at hand")
    assert at("S1", LOOKED, unmeasured).node == "N12"


def test_volts_that_stay_after_the_stop_end_everything() -> None:
    stays = read(
        "N17", bus_volts=31.0, opening_volts=31, closing_volts=31, flips=True, stopped_volts=30.0
    )
    position = at("S1", *TO_BOARD, stays)
    assert (position.verdict, position.is_hard_stop, position.may_power) == ("V20", True, False)
    assert allowed_jumps(position) == ()
    assert refused("S1", *TO_BOARD, stays, no("N60")) == ("stopped", 8)
    signed = at("S1", *TO_BOARD, stays, Answer("V20", "signed", reason="K. Weiss"))
    assert (signed.node, signed.is_hard_stop) == ("N60", False)


def test_only_a_signature_leads_on_from_a_broken_spring_and_then_to_a_new_look() -> None:
    stopped = (yes("N00"), no("N01"), no("N00", "the spring broke while we looked"))
    assert at("S1", *stopped).verdict == "V90"
    assert refused("S1", *stopped, yes("N00")) == ("stopped", 3)
    assert refused("S1", *stopped, Answer("V90", "signed", reason=" ")) == ("needs_reason", 3)
    assert refused("S1", *stopped, Answer("V32", "signed", reason="K. W.")) == ("not_stopped", 3)
    assert refused("S1", Answer("V90", "signed", reason="K. W.")) == ("not_stopped", 0)
    signed = (*stopped, Answer("V90", "signed", reason="K. Weiss"))
    assert at("S1", *signed).node == "N00"
    assert at("S1", *signed, LOOKED).node == "N01"
    assert at("S1", *signed, LOOKED).steps[3].reason == "K. Weiss"
    # The complaint's own entry again, not where the trace was left.
    broken = (no("N00"), Answer("V90", "signed", reason="K. Weiss"), LOOKED)
    assert at("S4", *broken).node == "N32"


def test_a_heavy_door_gets_no_power_before_its_balance_has_passed() -> None:
    assert refused("S8", LOOKED, yes("N30", "try it")) == ("powered_too_early", 1)
    assert "N30" not in allowed_jumps(at("S8", LOOKED))
    # Unpowered tests may come first; what would need power leads to the balance.
    linkage = at("S8", LOOKED, yes("N53", "on the way"))
    assert linkage.node == "N50"
    remote = (LOOKED, read("N04", reason="at hand", cell_volts=2.0))
    assert (at("S8", *remote).verdict, at("S8", *remote).next_node) == ("V01", "N50")
    assert refused("S8", *remote, yes("N60")) == ("powered_too_early", 2)
    assert at("S8", LOOKED, BALANCED).node == "N51"
    assert at("S8", LOOKED, BALANCED, yes("N30", "try it")).node == "N60"
    weak = read("N50", moves="sinks", quarter_mm=10, half_mm=200, three_quarters_mm=20)
    position = at("S8", LOOKED, weak, Answer("V32", "signed", reason="K. Weiss"))
    assert (position.node, position.may_power) == ("N60", True)


def test_a_door_that_moves_by_itself_gets_no_power_before_its_switches_were_measured() -> None:
    assert refused("S13", LOOKED, yes("N30", "try it")) == ("powered_too_early", 1)
    both_suspect = at("S13", LOOKED, unknown("N27"))
    assert (both_suspect.verdict, both_suspect.is_hard_stop) == ("V20", True)
    assert both_suspect.unproven_nodes == ("N27",)
    switch = at("S13", LOOKED, no("N27"), yes("N60"))
    assert switch.node == "N61"


def test_cannot_tell_goes_the_failing_way_and_leaves_the_verdict_unproven() -> None:
    position = at("S1", LOOKED, no("N01"), unknown("N10"))
    assert (position.verdict, position.is_unproven) == ("V10", True)
    assert position.unproven_nodes == ("N10",)
    proven = at("S1", LOOKED, no("N01"), read("N10", battery_volts=11.0))
    assert (proven.verdict, proven.unproven_nodes) == ("V10", ())
    earlier = at("S1", LOOKED, unknown("N01"), read("N10", battery_volts=11.0))
    assert earlier.unproven_nodes == ("N01",)


def test_what_could_be_read_counts_even_where_the_rest_could_not() -> None:
    position = at("S1", *TO_CONVERTER, unknown("N12", output_volts=0.3))
    assert (position.node, position.outcomes["N12"]) == ("N13", "fail")
    # Not to know is never a pass, whatever part of it looks good.
    assert at("S1", *TO_CONVERTER, unknown("N12", output_volts=32.1)).verdict == "V12"
    stays = unknown("N17", stopped_volts=31.0)
    assert at("S1", *TO_BOARD, stays).is_hard_stop
    assert at("S1", *TO_BOARD, unknown("N17", bus_volts=31.0)).node == "N19"
    assert at("S1", *TO_BOARD, unknown("N17", bus_volts=31.0)).known["N17.bus_volts"] == 31.0


def test_a_jump_needs_a_reason_and_keeps_it() -> None:
    assert refused("S1", LOOKED, GOOD_FUSE) == ("needs_reason", 1)
    position = at("S1", LOOKED, Answer("N14", "measured", GOOD_FUSE.values, "box is open"))
    assert position.node == "N15"
    assert position.steps[-1].reason == "box is open"
    assert refused("S1", yes("N01", "first things first")) == ("before_first_look", 0)
    assert refused("S1", LOOKED, read("N31", reason="x", what="slow")) == ("not_askable", 1)


def test_a_jump_leaves_a_verdict_without_calling_it_repaired() -> None:
    to_verdict = (*TO_CONVERTER, read("N12", output_volts=12.0, input_volts=12.6))
    position = at("S1", *to_verdict, Answer("N14", "measured", GOOD_FUSE.values, "doubtful"))
    assert (position.verdict, position.node) == (None, "N15")
    assert position.outcomes["N12"] == "fail"


def test_an_answer_corrected_by_a_jump_to_its_node_replaces_the_first() -> None:
    wrong = read("N10", battery_volts=11.0)
    right = read("N10", reason="misread", battery_volts=12.7)
    position = at("S1", LOOKED, no("N01"), wrong, read("N11", reason="go on",
                  input_volts=12.0, battery_volts=12.2), right)  # fmt: skip
    assert position.known["N10.battery_volts"] == 12.7
    assert position.node == "N12"


def test_what_was_answered_is_not_asked_again_in_this_trace_or_the_next_of_the_visit() -> None:
    first = at("S1", *TO_CONVERTER)
    again = trace("S1", (no("N01"),), PLAIN, earlier=first.kept)
    assert again.node == "N12"
    assert {answer.node for answer in first.kept} == {"N00", "N10", "N11"}
    # What was wrong, and has been repaired since, is not brought along.
    broken = at("S1", *TO_CONVERTER, read("N12", output_volts=12.0, input_volts=12.6))
    assert "N12" not in {answer.node for answer in broken.kept}


def test_answers_brought_along_are_held_to_the_same_rules() -> None:
    for earlier, code in (
        (Answer("N99", "yes"), "unknown_node"),
        (Answer("N54", "yes"), "not_askable"),
        (Answer("N10", "measured"), "missing_value"),
    ):
        with pytest.raises(AnswerRefusedError) as error:
            trace("S1", (), PLAIN, earlier=(LOOKED, earlier))
        assert (error.value.code, error.value.index) == (code, -1)
    assert trace("S1", (), PLAIN, earlier=(no("N00"),)).is_hard_stop


def test_after_a_repair_the_repaired_group_is_asked_again() -> None:
    bad = read("N12", output_volts=12.0, input_volts=12.6)
    to_verdict = (*TO_CONVERTER, bad)
    assert at("S1", *to_verdict).next_node == "N60"
    back = at("S1", *to_verdict, no("N60"))
    assert back.node == "N31"
    assert "N12" not in back.outcomes
    assert back.outcomes["N10"] == "pass"
    again = at("S1", *to_verdict, no("N60"), read("N31", what="no_motion"))
    # Battery and feed are known; the converter is measured anew.
    assert again.node == "N12"


def test_a_charged_battery_is_measured_anew() -> None:
    to_verdict = (LOOKED, no("N01"), read("N10", battery_volts=11.0))
    position = at("S1", *to_verdict, BATTERY)
    assert position.node == "N11"
    assert [step.goes_to for step in position.steps[-2:]] == ["V10", "N11"]


def test_the_third_arrival_at_what_is_wrong_gives_up_for_more_experience() -> None:
    round_trip = (read("N31", what="lamp"), yes("N45"), read("N61", counter_before=1,
                  counter_after=4))  # fmt: skip
    assert at("S1", LOOKED, yes("N01"), yes("N02"), no("N30"), *round_trip).verdict == "V00"
    sensors = (read("N31", what="reverses"), read("N40", led="right"), yes("N41"), yes("N43"))
    first = at("S1", LOOKED, yes("N01"), yes("N02"), no("N30"), *sensors, no("N60"))
    assert (first.node, first.escalate) == ("N31", False)
    third = at(
        "S1", LOOKED, yes("N01"), yes("N02"), no("N30"), *sensors, no("N60"),
        read("N31", what="reverses"), yes("N43"), no("N60"),
    )  # fmt: skip
    assert (third.verdict, third.escalate, third.is_closed) == ("V39", True, True)


def test_no_fault_found_without_a_reason_to_escalate() -> None:
    position = at("S11", LOOKED, BALANCED, read("N51", peak_newtons=60, spread_newtons=20))
    assert position.node == "N53"
    assert not position.escalate


def test_a_closed_trace_takes_nothing_more() -> None:
    works = (LOOKED, read("N61", counter_before=10, counter_after=13))
    position = at("S12", *works)
    assert (position.verdict, position.is_closed, position.next_node) == ("V00", True, None)
    assert refused("S12", *works, yes("N30", "once more")) == ("closed", 2)
    assert allowed_jumps(position) == ()


@pytest.mark.parametrize(
    ("per_cycle", "digits", "before", "after", "verdict"),
    [(1, 6, 100, 103, "V00"), (2, 6, 100, 106, "V00"), (1, 6, 100, 106, "V50"),
     (1, 6, 100, 100, "V50"), (1, 5, 99_999, 2, "V00"), (2, 5, 99_998, 4, "V00"),
     (1, 6, 99_999, 2, "V50")],
)  # fmt: skip
def test_counter_over_three_cycles(
    per_cycle: int, digits: int, before: int, after: int, verdict: str
) -> None:
    position = at(
        "S12", LOOKED, read("N61", counter_before=before, counter_after=after),
        context=Context(counts_per_cycle=per_cycle, counter_digits=digits),
    )  # fmt: skip
    assert position.verdict == verdict


@pytest.mark.parametrize(
    ("cell", "nominal", "node"), [(2.7, None, "N05"), (2.6, None, None), (10.8, 12.0, "N05"),
                                  (10.5, 12.0, None)],
)  # fmt: skip
def test_remote_cell_keeps_nine_tenths_of_what_is_marked_on_it(
    cell: float, nominal: float | None, node: str | None
) -> None:
    position = at("S2", LOOKED, read("N04", cell_volts=cell, nominal_volts=nominal))
    assert position.node == node


@pytest.mark.parametrize(
    ("context", "amps", "outcome"),
    [(Context(motor_baseline_amps=9.0), 14.4, "near"), (Context(motor_baseline_amps=9.0), 14.5,
     "fail"), (Context(motor_baseline_amps=9.0), 11.0, "pass"), (Context(motor_limit_amps=12.0),
     12.5, "fail"), (Context(fuse_amps=20.0), 19.0, "pass"), (Context(fuse_amps=20.0), 21.0,
     "fail"), (Context(), 60.0, "pass")],
)  # fmt: skip
def test_motor_current_against_its_own_figure_the_types_or_the_fuse(
    context: Context, amps: float, outcome: str
) -> None:
    answer = read("N26", reason="at hand", amps=amps, turns=True, insulated=True)
    position = at("S1", LOOKED, answer, context=context)
    assert position.outcomes["N26"] == outcome


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        (Answer("N99", "yes"), "unknown_node"),
        (Answer("N54", "yes", reason="why not"), "not_askable"),
        (Answer("N00", "measured"), "bad_reply"),
        (Answer("N00", "perhaps"), "bad_reply"),
        (read("N10", reason="x", battery_volts="full"), "bad_value"),
        (read("N10", reason="x", battery_volts=float("nan")), "bad_value"),
        (read("N10", reason="x", battery_volts=True), "bad_value"),
        (read("N10", reason="x", battery_volts=12.0, amps=3.0), "bad_value"),
        (read("N14", reason="x", conducts=1, holder_clean=True), "bad_value"),
        (read("N40", reason="x", led="blue"), "bad_value"),
        (read("N11", reason="x", input_volts=12.0), "missing_value"),
    ],
)
def test_what_does_not_fit_a_node_is_refused(answer: Answer, code: str) -> None:
    answers = (answer,) if answer.node == "N00" else (LOOKED, answer)
    assert refused("S1", *answers) == (code, len(answers) - 1)


def test_an_unknown_complaint_is_refused() -> None:
    assert refused("S99") == ("unknown_symptom", 0)


def test_limits_are_shown_as_numbers_of_this_door_and_of_what_is_known() -> None:
    bands = {each.field: each for each in limits_of(TREE.nodes["N12"], PLAIN)}
    assert (bands["output_volts"].low, bands["output_volts"].high) == (31.0, 33.0)
    truck = Context(supply_volts=24.0)
    assert limits_of(TREE.nodes["N10"], truck)[0].low == pytest.approx(24.4)
    amps = limits_of(TREE.nodes["N26"], Context(motor_baseline_amps=10.0))[0]
    assert (amps.low, amps.high) == (None, 16.0)
    # The lowest volts at the motor end need the board's own, not read yet.
    assert limits_of(TREE.nodes["N18"], CABLE)[1].low is None


def test_a_fold_changes_nothing_it_was_given() -> None:
    values = {"battery_volts": 12.6}
    answers = [LOOKED, no("N01"), Answer("N10", "measured", values)]
    first = trace("S1", answers, PLAIN)
    assert trace("S1", answers, PLAIN) == first
    assert values == {"battery_volts": 12.6}
    # Undo is the fold without the last answer.
    assert trace("S1", answers[:-1], PLAIN).node == "N10"


def test_a_fuse_marked_below_the_drive_is_told() -> None:
    assert Context(fuse_volts=58.0).fuse_is_rated_for_drive is True
    assert Context(fuse_volts=32.0).fuse_is_rated_for_drive is False
    assert Context().fuse_is_rated_for_drive is None
