"""Which test comes next: the cheapest expected search against the classic order.

With one fault and independent tests, the search that finds it soonest on average takes the tests
by ascending minutes per likelihood. The classic order follows the current and is easy to teach.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inspections.tracing.elements import GOOD, Symptom
from inspections.tracing.engine import Position
from inspections.tracing.likelihood import GROUPS
from inspections.tracing.walk import FIRST_LOOK

CLASSIC_ORDER = (
    "remote", "converter", "fuse", "board", "cable", "motor", "mechanics", "sensors", "supply",
)  # fmt: skip
# A reading of these says something only once the others have passed.
NEEDS: dict[str, tuple[str, ...]] = {
    "N02": ("N01",),
    "N17": ("N12", "N14"),
    "N18": ("N12", "N14"),
    "N25": ("N18",),
    "N26": ("N18",),
}
_GROUP_OF_NODE = {node: group.code for group in GROUPS.values() for node in group.nodes}
# A failure here has not found anything yet: any test may follow.
OPEN_ENDED = ("N01", "N30")


@dataclass(frozen=True)
class Suggestion:
    """The next test in the cheapest order, and the classic one, with minutes to a verdict."""

    node: str
    classic_node: str
    order: tuple[str, ...]
    classic_order: tuple[str, ...]
    minutes: float | None
    classic_minutes: float | None

    @property
    def saves_minutes(self) -> float:
        """Minutes that the suggested order saves on average."""
        if self.minutes is None or self.classic_minutes is None:
            return 0.0
        return self.classic_minutes - self.minutes


def expected_minutes(
    order: Sequence[str], likelihoods: Mapping[str, float], minutes: Mapping[str, float]
) -> float:
    """Average minutes until the faulty group's test is done, among the groups in the order.

    Raises
    ------
    ValueError
        If the order is empty of likelihood.
    """
    total = sum(likelihoods[group] for group in order)
    if not total > 0:
        raise ValueError(f"An order holds groups with a likelihood above 0, not {list(order)}.")
    spent = expected = 0.0
    for group in order:
        spent += minutes[group]
        expected += likelihoods[group] / total * spent
    return expected


def _comes_first(group: str, among: Sequence[str]) -> bool:
    """Whether no other group of these has to be tested before this one."""
    needed = {_GROUP_OF_NODE[node] for own in GROUPS[group].nodes for node in NEEDS.get(own, ())}
    return not (needed - {group}) & set(among)


def cheapest_order(
    groups: Sequence[str], likelihoods: Mapping[str, float], minutes: Mapping[str, float]
) -> tuple[str, ...]:
    """Groups by ascending minutes per likelihood, none before a group that it needs."""
    left, order = list(groups), []
    while left:
        free = [group for group in left if _comes_first(group, left)]
        best = min(free, key=lambda group: minutes[group] / likelihoods[group])
        order.append(best)
        left.remove(best)
    return tuple(order)


def minutes_left(position: Position) -> dict[str, float]:
    """Minutes of each group's test that are still to be spent, without finished groups."""
    left = {}
    for code, group in GROUPS.items():
        open_nodes = [node for node in group.nodes if node not in position.outcomes]
        if open_nodes and not _is_idle(open_nodes[0], position):
            left[code] = group.minutes * len(open_nodes) / len(group.nodes)
    return left


def _is_idle(node: str, position: Position) -> bool:
    """Whether a needed test has failed, so that this one would say nothing."""
    needed = [position.outcomes.get(each) for each in NEEDS.get(node, ())]
    return any(outcome is not None and outcome not in GOOD for outcome in needed)


def _first_open(group: str, position: Position) -> str:
    return next(node for node in GROUPS[group].nodes if node not in position.outcomes)


def _may_choose(symptom: Symptom, position: Position) -> bool:
    """Whether another test than the tree's next one may be proposed at all."""
    if not symptom.may_reorder or not position.may_power or not position.steps:
        return False
    if position.outcomes.get(FIRST_LOOK) not in GOOD or position.node not in _GROUP_OF_NODE:
        return False
    last = position.steps[-1]
    if last.node in OPEN_ENDED:
        return True
    # After a failure, the branch that looks for its cause is the short way.
    if last.outcome not in GOOD:
        return False
    return not _is_begun(_GROUP_OF_NODE[position.node], position)


def _is_begun(group: str, position: Position) -> bool:
    return any(node in position.outcomes for node in GROUPS[group].nodes)


def suggest(
    symptom: Symptom, position: Position, likelihoods: Mapping[str, float]
) -> Suggestion | None:
    """The next test with the best expected minutes; nothing once there is a verdict."""
    if position.node is None:
        return None
    left = minutes_left(position)
    current = _GROUP_OF_NODE.get(position.node)
    if not _may_choose(symptom, position) or current not in left:
        return Suggestion(position.node, position.node, (), (), None, None)
    classic = (current, *(each for each in CLASSIC_ORDER if each in left and each != current))
    order = cheapest_order(tuple(left), likelihoods, left)
    classic_minutes = expected_minutes(classic, likelihoods, left)
    minutes = expected_minutes(order, likelihoods, left)
    if minutes >= classic_minutes:
        order, minutes = classic, classic_minutes
    node = position.node if order[0] == current else _first_open(order[0], position)
    return Suggestion(node, position.node, order, classic, minutes, classic_minutes)
