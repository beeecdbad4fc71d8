"""Finds what is wrong with a tree: dead ends, unknown names, nodes that nothing leads to."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from inspections.tracing.context import CONTEXT_NAMES
from inspections.tracing.elements import Node, Symptom, Tree, Verdict
from inspections.tracing.predicates import OPERATIONS, Expression, names_in, operations_in
from inspections.tracing.walk import REPAIRS

JUDGED = ("outcome", "passed")


def targets_of(node: Node) -> tuple[str, ...]:
    """Every node or verdict that an answer can lead to."""
    return (*(route.goes_to for route in node.routes), node.if_unknown)


def reachable(tree: Tree) -> frozenset[str]:
    """Nodes and verdicts that some symptom leads to, without any jump."""
    found: set[str] = set()
    waiting = [code for symptom in tree.symptoms.values() for code in symptom.path]
    while waiting:
        code = waiting.pop()
        if code in found:
            continue
        found.add(code)
        if code in tree.nodes:
            waiting += targets_of(tree.nodes[code])
        elif code in tree.verdicts and tree.verdicts[code].next_node:
            waiting.append(str(tree.verdicts[code].next_node))
    return frozenset(found)


def known_names(tree: Tree) -> frozenset[str]:
    """Every name that an expression may ask for."""
    names = {*CONTEXT_NAMES, *tree.derived, REPAIRS}
    for code, node in tree.nodes.items():
        names |= {f"{code}.{each.name}" for each in node.fields}
        names |= {f"{code}.{each}" for each in (*JUDGED, "yes")}
    return frozenset(names)


def expressions_of(tree: Tree) -> Iterator[tuple[str, Expression]]:
    """Every expression with where it stands."""
    yield from tree.derived.items()
    for code, node in tree.nodes.items():
        for route in node.routes:
            yield f"{code} to {route.goes_to}", route.when
        for each in node.fields:
            yield f"{code}.{each.name}", each.low
            yield f"{code}.{each.name}", each.high
    for code, verdict in tree.verdicts.items():
        for part in verdict.parts:
            yield f"{code} {part.component}", part.when


def _node_defects(tree: Tree, code: str, node: Node) -> Iterator[str]:
    ends = set(tree.nodes) | set(tree.verdicts)
    if code != node.code:
        yield f"{code} is filed under another code than its own, {node.code}."
    if not node.routes or node.routes[-1].when is not True:
        yield f"{code} has no last route that always holds."
    for target in targets_of(node):
        if target not in ends:
            yield f"{code} leads to {target}, which is neither a node nor a verdict."
    for route in node.routes:
        if route.is_stop and route.goes_to not in tree.verdicts:
            yield f"{code} stops, but at {route.goes_to}, which is no verdict."
    if not node.question or not node.how:
        yield f"{code} has no question or does not say how."


def _code_defects(
    tree: Tree, components: Collection[str], cautions: Collection[str], groups: Collection[str]
) -> Iterator[str]:
    holders: list[Node | Verdict | Symptom] = [
        *tree.nodes.values(),
        *tree.verdicts.values(),
        *tree.symptoms.values(),
    ]
    for holder in holders:
        for caution in holder.cautions:
            if caution not in cautions:
                yield f"{holder.code} names caution {caution}, which does not exist."
        for group in holder.groups:
            if group not in groups:
                yield f"{holder.code} names cause group {group}, which does not exist."
    for verdict in tree.verdicts.values():
        for part in verdict.parts:
            if part.component not in components:
                yield f"{verdict.code} proposes {part.component}, which is no component."


def _symptom_defects(tree: Tree, symptom: Symptom) -> Iterator[str]:
    if symptom.path[:1] != ("N00",):
        yield f"{symptom.code} does not begin with the look at spring and cables, N00."
    for code in (*symptom.path, *filter(None, [symptom.unpowered_until])):
        if code not in tree.nodes:
            yield f"{symptom.code} enters at {code}, which is no node."
    if symptom.unpowered_until and tree.nodes[symptom.unpowered_until].is_powered:
        yield f"{symptom.code} waits for {symptom.unpowered_until}, which needs power itself."


def validate_tree(
    tree: Tree,
    *,
    components: Collection[str],
    cautions: Collection[str],
    groups: Collection[str],
) -> list[str]:
    """Every defect of a tree in a sentence; an empty list is a sound tree.

    Components and cautions are the catalogue's codes, groups the causes that tests belong to.
    """
    defects = [
        each for code, node in tree.nodes.items() for each in _node_defects(tree, code, node)
    ]
    defects += [
        each for symptom in tree.symptoms.values() for each in _symptom_defects(tree, symptom)
    ]
    defects += _code_defects(tree, components, cautions, groups)
    for code, verdict in tree.verdicts.items():
        if verdict.next_node is not None and verdict.next_node not in tree.nodes:
            defects.append(f"{code} goes on at {verdict.next_node}, which is no node.")
    names = known_names(tree)
    for place, expression in expressions_of(tree):
        defects += [
            f"{place} asks for {name}, which nothing gives."
            for name in names_in(expression)
            if name not in names
        ]
        defects += [
            f"{place} uses {operation}, which is not in the language."
            for operation in operations_in(expression)
            if operation not in OPERATIONS
        ]
    unreached = (set(tree.nodes) | set(tree.verdicts)) - reachable(tree)
    return defects + [f"No symptom leads to {code}." for code in sorted(unreached)]
