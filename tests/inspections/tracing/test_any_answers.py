"""Whatever is answered: no loop, no dead end, no way past a stop."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.tracing.answers import Answer, AnswerRefusedError
from inspections.tracing.context import Context
from inspections.tracing.elements import GOOD
from inspections.tracing.engine import Position, allowed_jumps, trace
from inspections.tracing.tree import TREE
from tests.inspections.tracing.random_answers import CONTEXTS, any_answer, next_answer

SYMPTOMS = st.sampled_from(sorted(TREE.symptoms))
SEEDS = st.integers(0, 2**32)
WHICH_CONTEXT = st.sampled_from(CONTEXTS)
WHOLE_DOOR = [code for code, node in TREE.nodes.items() if "function" in node.groups]
# Between two verdicts a node is asked once, those of the whole door again at each of two returns.
MOST_BETWEEN_VERDICTS = len(TREE.nodes) + 2 * len(WHOLE_DOOR)
LONG = 45


def to_the_next_verdict(
    random: Random, symptom: str, answers: list[Answer], context: Context
) -> Position:
    """Answer the questions, never jumping, until there is a verdict."""
    position = trace(symptom, answers, context)
    for _ in range(MOST_BETWEEN_VERDICTS + 1):
        if position.verdict:
            return position
        answers.append(next_answer(random, position, jumps=0.0))
        position = trace(symptom, answers, context)
    raise AssertionError(f"No verdict after {MOST_BETWEEN_VERDICTS} answers: {answers}")


@settings(max_examples=600, deadline=None)
@given(SYMPTOMS, SEEDS, WHICH_CONTEXT)
def test_every_sequence_comes_to_a_verdict(symptom: str, seed: int, context: Context) -> None:
    random, answers = Random(seed), list[Answer]()
    for _ in range(4):
        position = to_the_next_verdict(random, symptom, answers, context)
        if position.is_closed:
            return
        answers.append(next_answer(random, position, jumps=0.0))


@settings(max_examples=100, deadline=None)
@given(SYMPTOMS, SEEDS, WHICH_CONTEXT)
def test_there_is_always_something_to_do_until_it_is_closed(
    symptom: str, seed: int, context: Context
) -> None:
    random, answers = Random(seed), list[Answer]()
    for _ in range(LONG):
        position = trace(symptom, answers, context)
        assert (position.node is None) != (position.verdict is None)
        if position.is_closed:
            assert position.next_node is None
            return
        if position.verdict:
            assert position.next_node in TREE.nodes
        answers.append(next_answer(random, position))


def assert_nothing_passes_a_stop(
    random: Random, symptom: str, answers: list[Answer], context: Context
) -> None:
    position = trace(symptom, answers, context)
    assert allowed_jumps(position) == ()
    assert not position.may_power
    for node in TREE.nodes.values():
        if node.is_automatic:
            continue
        for reason in ("", "in a hurry"):
            tried = [*answers, any_answer(random, node, reason=reason)]
            with pytest.raises(AnswerRefusedError) as refused:
                trace(symptom, tried, context)
            assert refused.value.code == "stopped"
    for unsigned in ("", "  "):
        with pytest.raises(AnswerRefusedError, match="a reason or a name"):
            trace(
                symptom,
                [*answers, Answer(str(position.verdict), "signed", reason=unsigned)],
                context,
            )
    other = "V33" if position.verdict == "V32" else "V32"
    with pytest.raises(AnswerRefusedError, match="no stop here"):
        trace(symptom, [*answers, Answer(other, "signed", reason="T. Rained")], context)


@settings(max_examples=60, deadline=None)
@given(SYMPTOMS, SEEDS, WHICH_CONTEXT)
def test_nothing_passes_a_stop(symptom: str, seed: int, context: Context) -> None:
    random, answers = Random(seed), list[Answer]()
    for _ in range(LONG):
        position = trace(symptom, answers, context)
        if position.is_closed:
            return
        if position.is_hard_stop:
            assert_nothing_passes_a_stop(random, symptom, answers, context)
            return
        answers.append(next_answer(random, position))


@settings(max_examples=100, deadline=None)
@given(SYMPTOMS, SEEDS, WHICH_CONTEXT)
def test_the_first_look_comes_before_every_test_and_no_power_before_its_time(
    symptom: str, seed: int, context: Context
) -> None:
    random, answers = Random(seed), list[Answer]()
    first = TREE.symptoms[symptom].unpowered_until
    while len(answers) < LONG:
        position = trace(symptom, answers, context)
        if position.is_closed:
            return
        asked = position.node
        if asked and asked != "N00":
            assert position.outcomes["N00"] in GOOD
        if asked and TREE.nodes[asked].is_powered and first:
            answered = [step for step in position.steps if step.node == first]
            signed = [step for step in position.steps if step.reply == "signed"]
            assert signed or any(step.outcome != "cannot_tell" for step in answered)
        answers.append(next_answer(random, position))


@settings(max_examples=80, deadline=None)
@given(SYMPTOMS, SEEDS, WHICH_CONTEXT)
def test_no_question_is_asked_that_is_known(symptom: str, seed: int, context: Context) -> None:
    random, answers = Random(seed), list[Answer]()
    for _ in range(LONG):
        position = trace(symptom, answers, context)
        # But for a reading that said nothing without another one.
        assert position.outcomes.get(str(position.node), "cannot_tell") == "cannot_tell"
        assert position.node not in {each.node for each in position.kept}
        if position.is_closed:
            return
        answers.append(next_answer(random, position))


def test_some_answers_end_for_a_person_to_think() -> None:
    random, gave_up = Random(7), 0
    for _ in range(250):
        symptom, answers = random.choice(sorted(TREE.symptoms)), list[Answer]()
        for _ in range(30):
            position = trace(symptom, answers, CONTEXTS[0])
            if position.is_closed:
                gave_up += position.escalate
                break
            answers.append(next_answer(random, position, jumps=0.3))
    assert gave_up > 0
