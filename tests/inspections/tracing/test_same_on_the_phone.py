"""The phone's engine and the server's agree on thousands of sequences of answers."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route

from inspections.tracing.answers import Answer, AnswerRefusedError
from inspections.tracing.as_json import (
    answer_as_json,
    answer_from_json,
    position_as_json,
    tree_as_json,
)
from inspections.tracing.context import Context
from inspections.tracing.engine import trace
from inspections.tracing.likelihood import cause_likelihoods, priors_from_closed
from inspections.tracing.limits import limits_of
from inspections.tracing.ordering import suggest
from inspections.tracing.tree import TREE
from tests.inspections.tracing.random_answers import CONTEXTS, any_answer, next_answer
from tests.inspections.tracing.test_failure_modes import CASES
from tests.inspections.tracing.test_predicates import CASES as EXPRESSIONS
from tests.inspections.tracing.test_predicates import DERIVED, KNOWN

pytestmark = pytest.mark.browser

SCRIPTS = Path(__file__).parents[3] / "inspections" / "static" / "inspections"
SITE = "http://trace.test"
SEQUENCES = 2500
PRIORS = priors_from_closed({"cable": 7, "fuse": 2})
WALK = """async ({tree, sequences}) => {
  const {trace, limitsOf} = await import('/trace.js');
  return sequences.map(({symptom, answers, context, earlier}) => {
    try {
      const position = trace(tree, symptom, answers, context, earlier);
      const limits = position.node ? limitsOf(tree, position.node, context, position) : [];
      return {position, limits};
    } catch (error) {
      if (error.code === undefined) throw error;
      return {refused: [error.code, error.index]};
    }
  });
}"""
WEIGH = """async ({tree, positions, priors}) => {
  const {likelihoods, suggest} = await import('/likely.js');
  return positions.map(({symptom, position}) => {
    const found = likelihoods(tree, symptom, position, priors);
    return {found, assumed: likelihoods(tree, symptom, position),
            proposal: suggest(tree, symptom, position, found)};
  });
}"""
SAY = """async ({expressions, known, derived}) => {
  const {evaluate} = await import('/trace.js');
  return expressions.map((each) => evaluate(each, new Map(Object.entries(known)), derived));
}"""


def served(route: Route) -> None:
    """The scripts as they lie in the program, under the policy the program sends."""
    path = route.request.url.removeprefix(SITE).lstrip("/")
    policy = {"Content-Security-Policy": "default-src 'self'"}
    if path:
        route.fulfill(
            body=(SCRIPTS / path).read_text(), content_type="text/javascript", headers=policy
        )
    else:
        route.fulfill(
            body="<!doctype html><title>x</title>", content_type="text/html", headers=policy
        )


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """An empty page beside the scripts."""
    with browser.new_context() as context:
        opened = context.new_page()
        opened.route(f"{SITE}/**", served)
        opened.goto(f"{SITE}/")
        yield opened


def tree_data() -> Any:
    """The tree after the journey a phone's copy makes."""
    return json.loads(json.dumps(tree_as_json()))


def spoilt(random: Random, answer: Answer) -> Answer:
    """An answer that breaks one rule or another, or perhaps none."""
    node = TREE.nodes[random.choice(sorted(TREE.nodes))]
    return random.choice(
        (
            Answer(answer.node, answer.reply, answer.values, "no reason why"),
            any_answer(random, node),
            Answer("N99", "yes"),
            Answer(answer.node, "perhaps", answer.values),
            Answer(answer.node, answer.reply, {"noise": 1.0}),
            Answer(answer.node, answer.reply, dict.fromkeys(answer.values, "much")),
            Answer("V32", "signed", reason="T. Rained"),
            Answer("V90", "signed"),
        )
    )


def sequence(random: Random) -> tuple[str, list[Answer], Context, list[Answer]]:
    """Answers of one trace, each allowed where it stands, until somewhere it breaks off."""
    symptom, context = random.choice(sorted(TREE.symptoms)), random.choice(CONTEXTS)
    answers, earlier = list[Answer](), list[Answer]()
    if random.random() < 0.2:
        nodes = random.sample([node for node in TREE.nodes.values() if not node.is_automatic], 6)
        earlier = [any_answer(random, node) for node in nodes]
    for _ in range(random.randrange(1, 22)):
        position = trace(symptom, answers, context, earlier)
        if position.is_closed:
            break
        answers.append(next_answer(random, position))
    if random.random() < 0.25:
        answers.append(spoilt(random, answers[-1] if answers else Answer("N00", "yes")))
    return symptom, answers, context, earlier


def as_json(symptom: str, answers: list[Answer], context: Context, earlier: list[Answer]) -> Any:
    return {
        "symptom": symptom,
        "answers": [answer_as_json(each) for each in answers],
        "context": context.values(),
        "earlier": [answer_as_json(each) for each in earlier],
    }


def on_the_server(
    symptom: str, answers: list[Answer], context: Context, earlier: list[Answer]
) -> Any:
    """What the server's engine says, as plain data."""
    try:
        position = trace(symptom, answers, context, earlier)
    except AnswerRefusedError as error:
        return {"refused": [error.code, error.index]}
    limits = limits_of(TREE.nodes[position.node], context, position) if position.node else ()
    told = [{"field": each.field, "low": each.low, "high": each.high} for each in limits]
    return json.loads(json.dumps({"position": position_as_json(position), "limits": told}))


def test_both_engines_walk_alike(page: Page) -> None:
    random = Random(20261125)
    drawn = [sequence(random) for _ in range(SEQUENCES)]
    found = page.evaluate(
        WALK, {"tree": tree_data(), "sequences": [as_json(*each) for each in drawn]}
    )
    expected = [on_the_server(*each) for each in drawn]
    differing = [each for each in zip(drawn, found, expected, strict=True) if each[1] != each[2]]
    assert differing[:1] == []
    # The comparison has met every kind of end: questions, verdicts, stops, refusals.
    refusals = Counter(each["refused"][0] for each in expected if "refused" in each)
    positions = [each["position"] for each in expected if "position" in each]
    assert len(refusals) >= 8
    assert sum(refusals.values()) > 200
    assert len({each["verdict"] for each in positions}) > 25
    assert sum(each["is_hard_stop"] for each in positions) > 50
    assert sum(each["escalate"] for each in positions) > 0
    assert sum(each["is_unproven"] for each in positions) > 50


def test_both_engines_find_the_verdict_of_every_failure_mode(page: Page) -> None:
    sequences = []
    for case in CASES:
        traced = case.traced()
        sequences.append(as_json(traced.symptom, traced.answers, traced.context, []))
    found = page.evaluate(WALK, {"tree": tree_data(), "sequences": sequences})
    assert [each["position"]["verdict"] for each in found] == [case.verdict for case in CASES]


def test_both_say_the_same_of_every_operation(page: Page) -> None:
    found = page.evaluate(
        SAY,
        {"expressions": [each for each, _value in EXPRESSIONS], "known": KNOWN, "derived": DERIVED},
    )
    assert found == [value for _each, value in EXPRESSIONS]


def test_both_weigh_and_suggest_alike(page: Page) -> None:
    random = Random(8)
    standing = []
    for symptom, answers, context, earlier in (sequence(random) for _ in range(150)):
        try:
            standing += [
                (symptom, trace(symptom, answers[:length], context, earlier))
                for length in range(len(answers) + 1)
            ]
        except AnswerRefusedError:
            continue
    told = [
        {"symptom": symptom, "position": position_as_json(position)}
        for symptom, position in standing
    ]
    found = page.evaluate(WEIGH, {"tree": tree_data(), "positions": told, "priors": PRIORS})
    chosen = 0
    for (symptom, position), weighed in zip(standing, found, strict=True):
        expected = cause_likelihoods(TREE.symptoms[symptom], position, PRIORS)
        assert weighed["found"] == pytest.approx(expected)
        assumed = cause_likelihoods(TREE.symptoms[symptom], position)
        assert weighed["assumed"] == pytest.approx(assumed)
        proposal = suggest(TREE.symptoms[symptom], position, expected)
        if proposal is None:
            assert weighed["proposal"] is None
            continue
        told_by_phone = weighed["proposal"]
        assert (told_by_phone["node"], told_by_phone["order"]) == (
            proposal.node,
            list(proposal.order),
        )
        assert told_by_phone["saves_minutes"] == pytest.approx(proposal.saves_minutes)
        chosen += proposal.node != proposal.classic_node
    assert chosen > 20


def test_what_a_phone_sends_is_read_as_it_was_meant() -> None:
    answer = Answer("N12", "measured", {"output_volts": 32.1, "input_volts": 12.6}, "why")
    assert answer_from_json(json.loads(json.dumps(answer_as_json(answer)))) == answer
    assert answer_from_json({"node": "N01", "reply": "yes"}) == Answer("N01", "yes")
