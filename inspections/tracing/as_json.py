"""The tree and a position as plain data: what a phone keeps for work without signal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from inspections.electrical import USUAL_SUPPLY_VOLTS
from inspections.tracing.answers import REFUSALS, Answer
from inspections.tracing.elements import Node, Symptom, Tree, Verdict
from inspections.tracing.engine import Position
from inspections.tracing.likelihood import CHOICES, ELSEWHERE, EPSILON, FAILS, FALSE_ALARM, GROUPS
from inspections.tracing.ordering import CLASSIC_ORDER, NEEDS, OPEN_ENDED
from inspections.tracing.tree import TREE
from inspections.typed_values import ASK_ABOUT_POINT, BOUNDS

Translate = Callable[[str], str]
# Raised with every change that an older copy on a phone would read wrongly.
FORMAT = 1


def _in_their_words(words: str) -> str:
    return words


def _node(node: Node, translate: Translate) -> dict[str, Any]:
    data = asdict(node)
    data |= {
        "kind": str(node.kind),
        "question": translate(node.question),
        "how": translate(node.how),
    }
    for field in data["fields"]:
        field["label"] = translate(field["label"])
        field["options"] = [[code, translate(words)] for code, words in field["options"]]
    for route in data["routes"]:
        route["outcome"] = str(route["outcome"])
        route["note"] = translate(route["note"]) if route["note"] else ""
    return data


def _verdict(verdict: Verdict, translate: Translate) -> dict[str, Any]:
    data = asdict(verdict)
    return data | {"name": translate(verdict.name), "advice": translate(verdict.advice)}


def _symptom(symptom: Symptom, translate: Translate) -> dict[str, Any]:
    return asdict(symptom) | {"first": translate(symptom.first) if symptom.first else ""}


def _causes(translate: Translate) -> dict[str, Any]:
    return {
        "groups": {
            code: asdict(group) | {"name": translate(group.name)} for code, group in GROUPS.items()
        },
        "fails": FAILS,
        "choices": CHOICES,
        "elsewhere": ELSEWHERE,
        "false_alarm": FALSE_ALARM,
        "epsilon": EPSILON,
        "classic_order": list(CLASSIC_ORDER),
        "needs": {code: list(nodes) for code, nodes in NEEDS.items()},
        "open_ended": list(OPEN_ENDED),
    }


def typed_values_as_json() -> dict[str, Any]:
    """Bounds of typed values; no bound where there is none, since JSON knows no infinity."""
    finite = {
        name: {
            band: [None if each == float("inf") else each for each in getattr(bounds, band)]
            for band in ("usual", "soft", "hard")
        }
        | {"grows_with_supply": bounds.grows_with_supply}
        for name, bounds in BOUNDS.items()
    }
    return {
        "bounds": finite,
        "ask_about_point": list(ASK_ABOUT_POINT),
        "usual_supply_volts": USUAL_SUPPLY_VOLTS,
    }


def tree_as_json(translate: Translate = _in_their_words, tree: Tree = TREE) -> dict[str, Any]:
    """Everything that the phone's engine interprets, in the words of `translate`."""
    return {
        "format": FORMAT,
        "nodes": {code: _node(node, translate) for code, node in tree.nodes.items()},
        "verdicts": {code: _verdict(each, translate) for code, each in tree.verdicts.items()},
        "symptoms": {code: _symptom(each, translate) for code, each in tree.symptoms.items()},
        "derived": dict(tree.derived),
        "causes": _causes(translate),
        "typed_values": typed_values_as_json(),
        "refusals": {code: translate(words) for code, words in REFUSALS.items()},
    }


def answer_as_json(answer: Answer) -> dict[str, Any]:
    """An answer as the phone sends it."""
    return {
        "node": answer.node,
        "reply": str(answer.reply),
        "values": dict(answer.values),
        "reason": answer.reason,
    }


def answer_from_json(data: dict[str, Any]) -> Answer:
    """An answer from what a phone sent; whether it is allowed, the engine says."""
    return Answer(
        node=str(data.get("node", "")),
        reply=str(data.get("reply", "")),
        values=dict(data.get("values") or {}),
        reason=str(data.get("reason") or ""),
    )


def position_as_json(position: Position) -> dict[str, Any]:
    """A position with the keys that the phone's engine gives."""
    data = asdict(position)
    data["kept"] = [answer_as_json(answer) for answer in position.kept]
    return data | {"is_unproven": position.is_unproven}
