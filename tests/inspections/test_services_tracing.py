"""Fault traces on record: answers kept and taken back, hard stops held, verdicts tied to faults."""

from datetime import timedelta

import pytest

from inspections.models import FaultTrace, HoldReason, RoadHold, TraceAnswer
from inspections.services.tracing import (
    TraceRefusedError,
    answer_question,
    begin_trace,
    close_trace,
    context_of,
    position_of,
    take_back_answer,
)
from inspections.tracing.answers import Answer
from tests.factories import NOW, make_door, make_fault, make_user
from tests.truck_factories import (
    make_inspection,
    make_measurement,
    make_open_visit,
    make_spring_word,
    make_trace,
    make_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def say(trace: FaultTrace, *answers: Answer, by=None):
    """The answers one after another; the position after the last."""
    position = position_of(trace)
    for answer in answers:
        number = trace.answers.in_force().count() + 1
        position = answer_question(
            trace=trace,
            answer=answer,
            sequence=number,
            answered_at=NOW + timedelta(minutes=number),
            entered_at=NOW,
            answered_by=by,
        )
    return position


def test_a_trace_asks_and_ends_in_a_verdict() -> None:
    trace = make_trace(symptom="S2")
    position = position_of(trace)
    asked = []
    while position.node:
        asked.append(position.node)
        reply = (
            Answer("N04", "measured", {"cell_volts": 2.1, "nominal_volts": 3.0})
            if position.node == "N04"
            else Answer(position.node, "yes")
        )
        position = say(trace, reply)
    trace.refresh_from_db()
    assert trace.verdict == position.verdict == "V01"
    assert asked[-1] == "N04"
    assert not trace.is_unproven
    assert trace.answers.count() == len(asked)


def test_an_answer_sent_twice_is_kept_once() -> None:
    trace = make_trace()
    say(trace, Answer("N00", "yes"))
    answer_question(
        trace=trace, answer=Answer("N00", "yes"), sequence=1, answered_at=NOW, entered_at=NOW
    )
    assert TraceAnswer.objects.count() == 1


def test_what_the_engine_refuses_is_not_kept() -> None:
    trace = make_trace()
    with pytest.raises(TraceRefusedError) as refused:
        say(trace, Answer("N17", "measured", {}))
    assert refused.value.code
    assert not TraceAnswer.objects.exists()


def test_a_broken_spring_holds_the_truck_until_a_trained_person_signs() -> None:
    trace, person = make_trace(), make_user()
    position = say(trace, Answer("N00", "no"), by=person)
    assert position.is_hard_stop
    hold = RoadHold.objects.get()
    assert (hold.because, hold.placed_by) == (HoldReason.SPRING_OR_CABLE, person)
    with pytest.raises(TraceRefusedError) as refused:
        say(trace, Answer("N10", "measured", {"battery_volts": 12.6}), by=person)
    assert refused.value.code == "stopped"
    signed = Answer(position.verdict or "", "signed", reason="Kim")
    with pytest.raises(TraceRefusedError, match="trained"):
        say(trace, signed, by=person)
    assert trace.answers.count() == 1
    make_spring_word(person=person)
    assert not say(trace, signed, by=person).is_hard_stop
    assert RoadHold.objects.standing().exists()


def test_an_answer_taken_back_stays_on_record_and_its_hold_stands() -> None:
    trace = make_trace()
    say(trace, Answer("N00", "no"))
    position = take_back_answer(trace=trace, taken_back_at=NOW + timedelta(hours=1))
    trace.refresh_from_db()
    assert (position.node, trace.verdict) == ("N00", "")
    assert trace.answers.get().withdrawn_at == NOW + timedelta(hours=1)
    assert RoadHold.objects.standing().exists()
    say(trace, Answer("N00", "yes"))
    assert list(trace.answers.values_list("sequence", flat=True)) == [1, 2]


def test_nothing_is_taken_back_from_an_empty_trace_or_behind_a_fault() -> None:
    trace = make_trace()
    with pytest.raises(TraceRefusedError, match="no answer"):
        take_back_answer(trace=trace, taken_back_at=NOW)
    say(trace, Answer("N00", "yes"))
    close_trace(trace=trace, fault=make_fault(door=trace.door), closed_at=NOW)
    with pytest.raises(TraceRefusedError, match="correct the fault"):
        take_back_answer(trace=trace, taken_back_at=NOW)


def test_a_trace_leads_to_a_fault_of_its_own_door() -> None:
    trace = make_trace()
    with pytest.raises(TraceRefusedError, match="own door"):
        close_trace(trace=trace, fault=make_fault(door=make_door()), closed_at=NOW)


def test_an_open_trace_is_gone_on_with_on_the_same_visit_only() -> None:
    visit = make_open_visit()
    first = begin_trace(door=visit.door, symptom="S1", begun_at=NOW, entered_at=NOW, visit=visit)
    again = begin_trace(door=visit.door, symptom="S1", begun_at=NOW, entered_at=NOW, visit=visit)
    later = begin_trace(door=visit.door, symptom="S1", begun_at=NOW, entered_at=NOW)
    first.refresh_from_db()
    assert first == again
    assert later != first
    assert first.closed_at == NOW


def test_a_trace_belongs_to_an_open_visit_of_its_door() -> None:
    door = make_door()
    for visit in (make_visit(door=door), make_open_visit()):
        with pytest.raises(TraceRefusedError, match="open visit"):
            begin_trace(door=door, symptom="S1", begun_at=NOW, entered_at=NOW, visit=visit)


def test_what_one_trace_of_a_visit_found_the_next_does_not_ask() -> None:
    visit = make_open_visit()
    first = begin_trace(door=visit.door, symptom="S1", begun_at=NOW, entered_at=NOW, visit=visit)
    say(first, Answer("N00", "yes"), Answer("N01", "no"),
        Answer("N10", "measured", {"battery_volts": 12.7}))  # fmt: skip
    second = begin_trace(door=visit.door, symptom="S4", begun_at=NOW, entered_at=NOW, visit=visit)
    assert position_of(second).known["N10.battery_volts"] == 12.7


def test_the_context_is_the_door_models_and_the_baselines() -> None:
    trace = make_trace()
    model = trace.door.door_model
    model.supply_volts, model.drive_volts_low = 24.0, 30.5
    model.save()
    make_measurement(
        inspection=make_inspection(door=trace.door, kind="commissioning"),
        quantity="motor_amps",
        value=9.5,
    )
    context = context_of(trace)
    assert (context.supply_volts, context.drive_volts_low) == (24.0, 30.5)
    assert context.motor_baseline_amps == 9.5


@pytest.mark.parametrize(
    ("supply", "volts", "is_possible"),
    [(12.0, 17.9, True), (12.0, 18.1, False), (24.0, 35.0, True), (24.0, 36.5, False)],
)
def test_a_value_that_no_meter_shows_is_refused_whoever_sends_it(
    supply: float, volts: float, *, is_possible: bool
) -> None:
    trace = make_trace(symptom="S4")
    model = trace.door.door_model
    model.supply_volts = supply
    model.save()
    say(trace, Answer("N00", "yes"))
    answer = Answer("N32", "measured", {"rest_volts": volts, "running_volts": 12.0})
    if is_possible:
        assert say(trace, answer) is not None
        return
    with pytest.raises(TraceRefusedError, match="cannot read") as refused:
        say(trace, answer)
    assert refused.value.code == "impossible_value"
    assert trace.answers.in_force().count() == 1
