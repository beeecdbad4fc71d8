"""Walks the tree: a pure fold over the answers given so far.

Nothing is remembered between calls. To take the last answer back, fold again without it. The
phone's engine (`static/inspections/trace.js`) does the same with the same data; a test walks both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inspections.tracing.answers import Answer, AnswerRefusedError, Reply, defect_of
from inspections.tracing.context import Context
from inspections.tracing.elements import GOOD, Kind, Tree
from inspections.tracing.predicates import Value, evaluate
from inspections.tracing.tree import TREE
from inspections.tracing.walk import FIRST_LOOK, WHAT_IS_WRONG, WHOLE_DOOR, Step, Walk


@dataclass(frozen=True)
class Position:
    """Where a trace stands: a question, or a verdict with what it proposes."""

    node: str | None
    verdict: str | None
    is_hard_stop: bool
    is_closed: bool
    escalate: bool
    unproven_nodes: tuple[str, ...]
    components: tuple[str, ...]
    next_node: str | None
    may_power: bool
    steps: tuple[Step, ...]
    outcomes: dict[str, str]
    known: dict[str, Value]
    # What another trace of the same visit need not ask again.
    kept: tuple[Answer, ...]

    @property
    def is_unproven(self) -> bool:
        """Whether a test on the way to the verdict could not be done."""
        return bool(self.unproven_nodes)


def trace(
    symptom: str,
    answers: Sequence[Answer],
    context: Context,
    earlier: Sequence[Answer] = (),
    tree: Tree = TREE,
) -> Position:
    """Where a trace of this symptom stands after these answers.

    `earlier` are answers of another trace of the same visit (its `kept`): known, not asked again.

    Raises
    ------
    AnswerRefusedError
        If an answer is not allowed where it stands; its index says which.
    """
    if symptom not in tree.symptoms:
        raise AnswerRefusedError("unknown_symptom", 0)
    walk = Walk(tree, symptom, context.values())
    _bring_along(walk, earlier)
    walk.arrive(walk.symptom.path[0])
    for index, answer in enumerate(answers):
        refusal = walk.refusal(answer)
        if refusal:
            raise AnswerRefusedError(refusal, index)
        walk.take(answer)
    return _position(walk)


def _bring_along(walk: Walk, earlier: Sequence[Answer]) -> None:
    for place, answer in enumerate(earlier):
        node = walk.tree.nodes.get(answer.node)
        refusal = defect_of(node, answer) if node else "unknown_node"
        if refusal:
            raise AnswerRefusedError(refusal, place - len(earlier))
        walk.store(answer)
    for code in walk.stored:
        walk.judge(walk.tree.nodes[code])


def _position(walk: Walk) -> Position:
    verdict = walk.verdict
    parts = verdict.parts if verdict else ()
    return Position(
        node=walk.node,
        verdict=verdict.code if verdict else None,
        is_hard_stop=walk.is_stop,
        is_closed=verdict is not None and verdict.next_node is None,
        escalate=walk.escalate,
        unproven_nodes=_unproven(walk) if verdict else (),
        components=tuple(
            part.component
            for part in parts
            if evaluate(part.when, walk.known, walk.tree.derived) is True
        ),
        next_node=walk.due_next() if verdict else None,
        may_power=walk.may_power and not walk.is_stop,
        steps=tuple(walk.steps),
        outcomes={code: str(outcome) for code, outcome in walk.outcomes.items()},
        known=_known_fields(walk),
        kept=_kept(walk),
    )


def _unproven(walk: Walk) -> tuple[str, ...]:
    """Tests on the way to the verdict that could not be done, in order."""
    unknown = [
        code
        for code in walk.trail
        if code in walk.stored and walk.stored[code].reply == Reply.CANNOT_TELL
    ]
    return tuple(dict.fromkeys(unknown))


def _known_fields(walk: Walk) -> dict[str, Value]:
    return {
        f"{code}.{name}": value
        for code, answer in walk.stored.items()
        for name, value in answer.values.items()
        if value is not None
    }


def _kept(walk: Walk) -> tuple[Answer, ...]:
    groups = (*walk.verdict.groups, WHOLE_DOOR) if walk.verdict else (WHOLE_DOOR,)
    stale = set(walk.in_groups(groups))
    return tuple(
        answer
        for code, answer in walk.stored.items()
        if code not in stale and walk.is_answered(walk.tree.nodes[code])
    )


def allowed_jumps(position: Position, tree: Tree = TREE) -> tuple[str, ...]:
    """Nodes that may be answered now, with a reason, in place of the one that is asked."""
    if position.is_hard_stop or position.is_closed:
        return ()
    if position.outcomes.get(FIRST_LOOK) not in GOOD:
        return ()
    expected = position.node or position.next_node
    return tuple(
        code
        for code, node in tree.nodes.items()
        if node.kind is not Kind.AUTOMATIC
        and code not in (WHAT_IS_WRONG, expected)
        and (position.may_power or not node.is_powered)
    )
