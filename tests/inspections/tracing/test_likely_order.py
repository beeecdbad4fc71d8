"""Likelihoods and orders: worked figures, fleets of their own, and what may not be reordered."""

from __future__ import annotations

from itertools import permutations
from random import Random

import pytest

from inspections.tracing.answers import Answer
from inspections.tracing.context import Context
from inspections.tracing.elements import GOOD
from inspections.tracing.engine import Position, allowed_jumps, trace
from inspections.tracing.likelihood import (
    GROUP_OF_COMPONENT,
    GROUPS,
    after_complaint,
    cause_likelihoods,
    priors_from_closed,
)
from inspections.tracing.ordering import (
    CLASSIC_ORDER,
    NEEDS,
    cheapest_order,
    expected_minutes,
    minutes_left,
    suggest,
)
from inspections.tracing.tree import TREE
from tests.inspections.tracing.random_answers import CONTEXTS, next_answer
from tests.inspections.tracing.simulated_door import Door, begun

PRIORS = {code: group.prior for code, group in GROUPS.items()}
MINUTES = {code: group.minutes for code, group in GROUPS.items()}
LOOKED = (Answer("N00", "yes"), Answer("N01", "no"))


def at(symptom: str, *answers: Answer) -> Position:
    return trace(symptom, answers, Context())


def test_priors_sum_to_one() -> None:
    assert sum(PRIORS.values()) == pytest.approx(1.0)


def test_worked_minutes_of_both_orders() -> None:
    # 2 + 3 + 4 + ... weighed by hand with the assumed shares: 16.78 and 25.92.
    order = cheapest_order(tuple(GROUPS), PRIORS, MINUTES)
    assert order == ("remote", "fuse", "supply", "converter", "sensors", "mechanics", "cable",
                     "board", "motor")  # fmt: skip
    assert expected_minutes(order, PRIORS, MINUTES) == pytest.approx(16.8, abs=0.05)
    assert expected_minutes(CLASSIC_ORDER, PRIORS, MINUTES) == pytest.approx(25.9, abs=0.05)


def test_no_order_of_all_is_cheaper() -> None:
    # Every order of the six likeliest groups, tried one by one.
    groups = tuple(sorted(GROUPS, key=lambda code: -PRIORS[code])[:6])
    best = min(expected_minutes(order, PRIORS, MINUTES) for order in permutations(groups))
    found = expected_minutes(cheapest_order(groups, PRIORS, MINUTES), PRIORS, MINUTES)
    assert found == pytest.approx(best)


def test_expected_minutes_are_those_of_many_faults_drawn() -> None:
    random, total, drawn = Random(11), 0.0, 40_000
    order = cheapest_order(tuple(GROUPS), PRIORS, MINUTES)
    for fault in random.choices(list(PRIORS), weights=list(PRIORS.values()), k=drawn):
        total += sum(MINUTES[group] for group in order[: order.index(fault) + 1])
    assert total / drawn == pytest.approx(16.78, abs=0.3)


def test_an_order_without_likelihood_is_refused() -> None:
    with pytest.raises(ValueError, match=r"not \[\]"):
        expected_minutes((), PRIORS, MINUTES)


def test_own_closed_faults_take_over() -> None:
    assert priors_from_closed({}) == pytest.approx(PRIORS)
    ten = priors_from_closed({"cable": 10})
    assert ten["cable"] == pytest.approx((10 + 10 * 0.14) / 20)
    assert sum(ten.values()) == pytest.approx(1.0)
    many = priors_from_closed({"cable": 700, "motor": 300})
    assert many["cable"] == pytest.approx(0.7, abs=0.01)
    assert all(share > 0 for share in many.values())
    with pytest.raises(ValueError, match="not \\['gearbox'\\]"):
        priors_from_closed({"gearbox": 1})
    with pytest.raises(ValueError, match="not \\['cable'\\]"):
        priors_from_closed({"cable": -1})


def test_own_history_changes_what_is_tried_first() -> None:
    symptom, position = TREE.symptoms["S1"], at("S1", *LOOKED)
    own = priors_from_closed({"converter": 60})
    assert suggest(symptom, position, cause_likelihoods(symptom, position)).order[0] == "fuse"
    learned = suggest(symptom, position, cause_likelihoods(symptom, position, own))
    assert (learned.order[0], learned.node) == ("converter", "N12")


def test_the_complaint_weighs_but_rules_nothing_out() -> None:
    told = after_complaint(TREE.symptoms["S5"], PRIORS)
    assert told["sensors"] > 2 * PRIORS["sensors"]
    assert all(share > 0 for share in told.values())
    # A wrong counter says nothing about why a door does not work.
    assert after_complaint(TREE.symptoms["S12"], PRIORS) == pytest.approx(PRIORS)


def test_by_hand_one_failed_test() -> None:
    symptom = TREE.symptoms["S12"]
    position = trace(
        "S12",
        (LOOKED[0], Answer("N10", "measured", {"battery_volts": 11.0}, "at hand")),
        Context(),
    )
    found = cause_likelihoods(symptom, position)
    # Bayes: 0.15 x 0.55 against 0.85 x 0.03.
    assert found["supply"] == pytest.approx(0.0825 / (0.0825 + 0.0255))


@pytest.mark.parametrize(
    ("door", "symptom", "group"),
    [(Door(rest_volts=11.5, loaded_volts=10.0), "S1", "supply"),
     (Door(converter="through"), "S1", "converter"),
     (Door(fuse_whole=False), "S1", "fuse"), (Door(cable_loss_volts=9.0), "S3", "cable"),
     (Door(closed_led="wrong"), "S5", "sensors"), (Door(drag=(200, 90)), "S11", "mechanics"),
     (Door(cable_loss_volts=0.0, motor_turns=False, amps=0.0), "S3", "motor"),
     (Door(reacts=True, alike=False), "S1", "remote")],
)  # fmt: skip
def test_the_group_of_the_verdict_has_become_the_likeliest(
    door: Door, symptom: str, group: str
) -> None:
    position = begun(symptom, door).on_to_a_verdict(door)
    found = cause_likelihoods(TREE.symptoms[symptom], position)
    assert max(found, key=lambda code: found[code]) == group


def test_likelihoods_sum_to_one_and_never_vanish_whatever_is_answered() -> None:
    random = Random(3)
    for _ in range(60):
        code, answers = random.choice(sorted(TREE.symptoms)), list[Answer]()
        context = random.choice(CONTEXTS)
        for _ in range(20):
            position = trace(code, answers, context)
            found = cause_likelihoods(TREE.symptoms[code], position)
            assert sum(found.values()) == pytest.approx(1.0)
            assert min(found.values()) > 0
            if position.is_closed:
                break
            answers.append(next_answer(random, position))


def test_what_is_suggested_may_be_done_and_is_never_dearer_than_the_classic_order() -> None:
    random, differs = Random(5), 0
    for _ in range(150):
        code, answers = random.choice(sorted(TREE.symptoms)), list[Answer]()
        symptom, context = TREE.symptoms[code], random.choice(CONTEXTS)
        for _ in range(20):
            position = trace(code, answers, context)
            proposal = suggest(symptom, position, cause_likelihoods(symptom, position))
            if position.node is None:
                assert proposal is None
            else:
                assert proposal.classic_node == position.node
                assert proposal.node in (position.node, *allowed_jumps(position))
                assert proposal.saves_minutes >= 0
                differs += proposal.node != position.node
                if proposal.node != position.node:
                    assert symptom.may_reorder
                    assert position.outcomes["N00"] in GOOD
                    assert proposal.saves_minutes > 0
            if position.is_closed:
                break
            answers.append(next_answer(random, position, jumps=0.02))
    assert differs > 50


@pytest.mark.parametrize("code", TREE.symptoms)
def test_the_first_look_is_never_reordered(code: str) -> None:
    symptom, position = TREE.symptoms[code], at(code)
    proposal = suggest(symptom, position, cause_likelihoods(symptom, position))
    assert (proposal.node, proposal.classic_node, proposal.saves_minutes) == ("N00", "N00", 0.0)


@pytest.mark.parametrize("code", ["S2", "S8", "S9", "S12", "S13"])
def test_where_safety_or_the_complaint_fixes_the_way_it_stays(code: str) -> None:
    symptom, position = TREE.symptoms[code], at(code, LOOKED[0])
    proposal = suggest(symptom, position, cause_likelihoods(symptom, position))
    assert proposal.node == position.node


def test_a_failed_test_is_followed_to_its_cause() -> None:
    position = at("S5", LOOKED[0], Answer("N40", "measured", {"led": "wrong"}))
    symptom = TREE.symptoms["S5"]
    assert suggest(symptom, position, cause_likelihoods(symptom, position)).node == "N42"


def test_a_begun_test_is_finished_first() -> None:
    position = at("S5", LOOKED[0], Answer("N40", "measured", {"led": "right"}))
    symptom = TREE.symptoms["S5"]
    assert suggest(symptom, position, cause_likelihoods(symptom, position)).node == "N41"


def test_finished_and_idle_tests_are_not_counted() -> None:
    left = minutes_left(at("S1", *LOOKED))
    # Every control is dead: that the controls differ cannot be tried.
    assert "remote" not in left
    assert left["supply"] == 4
    half = minutes_left(at("S1", *LOOKED, Answer("N10", "measured", {"battery_volts": 12.7})))
    assert half["supply"] == 2
    done = at("S1", *LOOKED, Answer("N14", "measured", {"conducts": True, "holder_clean": True},
              "quick"))  # fmt: skip
    assert "fuse" not in minutes_left(done)


def test_no_test_comes_before_one_it_needs() -> None:
    # However unlikely a fuse, the cable's volts say nothing with an open one.
    likely = dict.fromkeys(GROUPS, 0.01) | {"cable": 0.9, "motor": 0.5}
    order = cheapest_order(tuple(GROUPS), likely, MINUTES)
    for node, needed in NEEDS.items():
        group = next(code for code, each in GROUPS.items() if node in each.nodes)
        for other in needed:
            before = next(code for code, each in GROUPS.items() if other in each.nodes)
            assert order.index(before) <= order.index(group)


def test_every_component_with_a_failure_mode_of_the_door_has_its_group() -> None:
    assert set(GROUP_OF_COMPONENT.values()) == set(GROUPS)
    assert "counter" not in GROUP_OF_COMPONENT
    assert "ajar_lamp" not in GROUP_OF_COMPONENT
