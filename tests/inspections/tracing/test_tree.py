"""The tree is sound, and what is wrong with a tree is found."""

from __future__ import annotations

import ast
import json
from dataclasses import replace

import pytest

from fleetdoors.models import Caution, Component
from inspections.codes import FAILURE_MODES, Complaint
from inspections.tracing.as_json import tree_as_json
from inspections.tracing.elements import Node, Route, Symptom, Tree, Verdict, fails
from inspections.tracing.likelihood import (
    CHOICES,
    FAILS,
    GROUP_OF_COMPONENT,
    GROUPS,
    OTHER_GROUPS,
)
from inspections.tracing.predicates import value
from inspections.tracing.tree import TREE
from inspections.tracing.validation import known_names, reachable, validate_tree
from tests.source import ROOT

COMPONENTS = {mode.component for mode in FAILURE_MODES.values()}
CAUTIONS = {f"C{number}" for number in range(1, 13)}
ALL_GROUPS = {*GROUPS, *OTHER_GROUPS}


def defects_of(tree: Tree) -> list[str]:
    return validate_tree(tree, components=COMPONENTS, cautions=CAUTIONS, groups=ALL_GROUPS)


def with_node(code: str, /, **changes: object) -> Tree:
    changed: Node = replace(TREE.nodes[code], **changes)  # type: ignore[arg-type]
    return replace(TREE, nodes={**TREE.nodes, code: changed})


def with_route(code: str, route: Route) -> Tree:
    return with_node(code, routes=(route, *TREE.nodes[code].routes))


def with_verdict(code: str, /, **changes: object) -> Tree:
    changed: Verdict = replace(TREE.verdicts[code], **changes)  # type: ignore[arg-type]
    return replace(TREE, verdicts={**TREE.verdicts, code: changed})


def with_symptom(code: str, /, **changes: object) -> Tree:
    changed: Symptom = replace(TREE.symptoms[code], **changes)  # type: ignore[arg-type]
    return replace(TREE, symptoms={**TREE.symptoms, code: changed})


def test_the_tree_is_sound() -> None:
    assert defects_of(TREE) == []


@pytest.mark.django_db
def test_every_part_and_caution_is_in_the_catalogue() -> None:
    components = set(Component.objects.values_list("code", flat=True))
    cautions = set(Caution.objects.values_list("code", flat=True))
    assert validate_tree(TREE, components=components, cautions=cautions, groups=ALL_GROUPS) == []
    assert set(GROUP_OF_COMPONENT) <= components


def test_it_holds_every_node_verdict_and_complaint_of_the_trade() -> None:
    numbers = [*range(7), *range(10, 23), 24, 25, 26, 27, 30, 31, 32, 40, 41, 42, 43, 44, 45, 46]
    numbers += [50, 51, 53, 54, 55, 60, 61, 70, 71]
    assert set(TREE.nodes) == {f"N{number:02}" for number in numbers}
    verdicts = [0, 1, 2, 3, 4, 5, 10, 11, 12, 14, 15, 16, 17, 18, 19, 20, 21, 23, 24, 25, 31, 32]
    verdicts += [33, 34, 36, 39, 40, 41, 42, 43, 45, 50, 90]
    assert set(TREE.verdicts) == {f"V{number:02}" for number in verdicts}
    assert set(TREE.symptoms) == set(Complaint.values)


def marked_for_translation() -> set[str]:
    """Every literal within `_(...)` in the sources of the tree."""
    sources = sorted((ROOT / "inspections" / "tracing").glob("*.py"))
    return {
        ast.literal_eval(node.args[0])
        for source in sources
        for node in ast.walk(ast.parse(source.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_"
    }


def words_a_person_reads() -> set[str]:
    """Every text that the tree hands to a translator."""
    heard: set[str] = set()

    def hear(words: str) -> str:
        heard.add(words)
        return words

    tree_as_json(hear)
    return heard


def test_every_word_that_a_person_reads_is_marked_for_translation() -> None:
    read = words_a_person_reads()
    assert read >= {node.question for node in TREE.nodes.values()}
    assert read >= {route.note for node in TREE.nodes.values() for route in node.routes} - {""}
    assert read == marked_for_translation()


def test_nothing_is_unreachable() -> None:
    assert reachable(TREE) == {*TREE.nodes, *TREE.verdicts}


def test_only_spring_cable_output_and_structure_stop() -> None:
    stops = {
        (code, route.goes_to)
        for code, node in TREE.nodes.items()
        for route in node.routes
        if route.is_stop
    }
    assert stops == {
        ("N00", "V90"),
        ("N17", "V20"),
        ("N27", "V20"),
        ("N50", "V32"),
        ("N50", "V33"),
        ("N50", "V34"),
    }
    assert {code for code, node in TREE.nodes.items() if node.unknown_is_stop} == {
        "N00", "N27", "N50",
    }  # fmt: skip


def test_spring_work_is_never_without_its_cautions() -> None:
    for code in ("V32", "V33", "V34", "V90"):
        assert {"C1", "C8"} <= set(TREE.verdicts[code].cautions)
    assert "C1" in TREE.nodes["N50"].cautions
    assert {"C6", "C8"} <= set(TREE.nodes["N00"].cautions)


def test_what_is_measured_live_says_so() -> None:
    live = [
        node.code
        for node in TREE.nodes.values()
        if node.is_powered and any(each.unit == "V" and each.required for each in node.fields)
    ]
    assert len(live) > 10
    # Battery posts alone are the battery's own caution.
    without = [code for code in live if not {"C4", "C11"} & set(TREE.nodes[code].cautions)]
    assert without == []


def test_the_likelihoods_speak_of_nodes_choices_and_groups_that_exist() -> None:
    assert set(FAILS) <= set(TREE.nodes)
    assert {group for table in FAILS.values() for group in table} <= set(GROUPS)
    choices = {code for code, _words in TREE.nodes["N31"].fields[0].options}
    assert set(CHOICES) == choices
    assert {group for table in CHOICES.values() for group in table} <= set(GROUPS)
    assert {node for group in GROUPS.values() for node in group.nodes} <= set(TREE.nodes)
    assert all(0 < p < 1 for table in (FAILS | CHOICES).values() for p in table.values())


def test_every_number_a_person_types_is_judged_by_its_quantity() -> None:
    quantities = tree_as_json()["typed_values"]["bounds"]
    unjudged = [
        f"{node.code}.{field.name}"
        for node in TREE.nodes.values()
        for field in node.fields
        if field.kind == "number" and field.quantity not in quantities
    ]
    assert unjudged == []


@pytest.mark.parametrize(
    ("tree", "defect"),
    [
        (with_node("N25", if_unknown="N99"), "N25 leads to N99, which is neither a node nor"),
        (with_node("N25", routes=(fails(value("N25.yes"), "N26"),)), "N25 has no last route"),
        (with_node("N25", routes=()), "N25 has no last route"),
        (with_node("N25", cautions=("C99",)), "N25 names caution C99"),
        (with_node("N25", groups=("gearbox",)), "N25 names cause group gearbox"),
        (with_node("N25", question=""), "N25 has no question"),
        (with_node("N25", code="N24"), "N25 is filed under another code"),
        (with_route("N25", fails(value("N25.noise"), "N26")), "N25 to N26 asks for N25.noise"),
        (with_route("N25", fails(("xor", True, True), "N26")), "N25 to N26 uses xor"),
        (
            with_route("N25", Route(value("N25.yes"), "N26", "fail", is_stop=True)),  # type: ignore[arg-type]
            "N25 stops, but at N26",
        ),
        (with_verdict("V25", next_node="N99"), "V25 goes on at N99"),
        (
            with_verdict("V25", parts=(replace(TREE.verdicts["V24"].parts[0], component="gear"),)),
            "V25 proposes gear",
        ),
        (with_symptom("S8", path=("N50",)), "S8 does not begin with the look"),
        (with_symptom("S8", path=("N00", "N99")), "S8 enters at N99"),
        (with_symptom("S8", unpowered_until="N17"), "S8 waits for N17, which needs power itself"),
        (with_node("N16", routes=(fails(True, "N50"),), if_unknown="N50"), "leads to V18"),
        (
            replace(TREE, nodes={**TREE.nodes, "N99": replace(TREE.nodes["N25"], code="N99")}),
            "No symptom leads to N99",
        ),
        (replace(TREE, derived={**TREE.derived, "x": value("y")}), "x asks for y"),
    ],
)
def test_a_defect_is_found(tree: Tree, defect: str) -> None:
    assert any(defect in each for each in defects_of(tree)), defects_of(tree)


def test_names_are_those_of_fields_nodes_context_and_derived() -> None:
    names = known_names(TREE)
    assert {"N11.input_volts", "N01.yes", "N17.passed", "supply_factor", "repairs"} <= names


def test_as_json_it_is_whole_and_in_the_asked_language() -> None:
    data = json.loads(json.dumps(tree_as_json(str.upper), allow_nan=False))
    assert set(data["nodes"]) == set(TREE.nodes)
    assert data["nodes"]["N25"]["question"] == TREE.nodes["N25"].question.upper()
    assert data["verdicts"]["V12"]["name"] == TREE.verdicts["V12"].name.upper()
    assert data["nodes"]["N31"]["fields"][0]["options"][0][1].isupper()
    assert data["symptoms"]["S8"]["first"].isupper()
    # Codes and the language of the routes are no words.
    assert data["nodes"]["N25"]["routes"][0]["when"] == ["value", "N25.yes"]
