"""The table of security requirements says nothing that is not there."""

import ast
import re

from tests.source import ROOT, modules, tracked_files

DOCUMENT = ROOT / "fleetdoors" / "config" / "SECURITY.md"
ROW = re.compile(r"^\| (\d+\.\d+\.\d+) \| (.+?) \| (.+) \|$", re.MULTILINE)
NAMED = re.compile(r"`([\w./-]+\.(?:py|md|toml|lock|html|js|example)|\.env\.example)(?:::(\w+))?`")
FEWEST_ROWS = 120
WORDS_OF_A_SHORTCOMING = "not met"
RUN_TEXT = {"eval", "exec", "compile", "__import__"}
RUN_COMMANDS_OR_OBJECTS = {"subprocess", "pickle", "marshal", "shelve", "yaml", "pty"}
# The demo's end runs the program's own command: its words are fixed, what was typed is its input.
OWN_COMMAND = ("fleetdoors/views/demo_end.py", "subprocess")
# One script copies the markup of a template of its own page; a counter is all it puts in.
COPIES_MARKUP = {"visit_close.js"}
MARKUP = re.compile(r"\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write)\b")


def rows() -> list[tuple[str, str, str]]:
    """Number, requirement and proof of each row of the table."""
    return ROW.findall(DOCUMENT.read_text())


def named_in(path: str) -> set[str]:
    """The functions that a test module defines."""
    tree = ast.parse((ROOT / path).read_text())
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_row_names_its_proof_or_says_that_it_is_not_met() -> None:
    bare = [
        number
        for number, _words, proof in rows()
        if not NAMED.search(proof)
        and WORDS_OF_A_SHORTCOMING not in proof
        and not re.search(r"\babove\b|\bmachine's\b", proof)
    ]
    assert bare == []


def test_every_file_and_test_named_is_there() -> None:
    named = NAMED.findall(DOCUMENT.read_text())
    assert [path for path, _test in named if not (ROOT / path).is_file()] == []
    missing = [f"{path}::{test}" for path, test in named if test and test not in named_in(path)]
    assert missing == []
    assert any(test for _path, test in named)


def test_numbers_stand_once_and_in_order() -> None:
    numbers = [tuple(map(int, number.split("."))) for number, _words, _proof in rows()]
    assert numbers == sorted(set(numbers))
    assert len(numbers) >= FEWEST_ROWS


def test_a_requirement_that_is_not_met_says_why() -> None:
    unmet = [proof for _number, _words, proof in rows() if WORDS_OF_A_SHORTCOMING in proof]
    assert unmet
    assert [proof for proof in unmet if len(proof) <= len(WORDS_OF_A_SHORTCOMING) + 10] == []


def test_the_program_runs_no_text_and_no_command() -> None:
    found = []
    for module in modules():
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                found += [(module.name, node.func.id)] * (node.func.id in RUN_TEXT)
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            found += [
                (module.name, name)
                for name in names
                if name.partition(".")[0] in RUN_COMMANDS_OR_OBJECTS
            ]
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                called = (node.value.id, node.attr)
                found += [(module.name, "os.system")] * (
                    called in {("os", "system"), ("os", "popen")}
                )
    assert set(found) - {OWN_COMMAND} == set()


def test_scripts_put_text_in_as_text() -> None:
    scripts = [
        path
        for path in tracked_files()
        if path.suffix == ".js" and "static" in path.parts and not path.name.endswith(".min.js")
    ]
    assert scripts
    assert {path.name for path in scripts if MARKUP.search(path.read_text())} <= COPIES_MARKUP
