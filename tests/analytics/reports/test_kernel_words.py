"""What the kernel says of a missing figure, in the reader's language."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.utils import translation

from analytics.kernel import mcbf, recurrence, trend
from analytics.reports.kernel_words import SENTENCES, why_missing
from tests.source import ROOT

# The kernel's modules whose reasons a page shows.
SHOWN = (
    "cable_trend", "delay_fit", "more_than_share", "posterior", "recurrence", "survival",
    "trend", "weibull",
)  # fmt: skip


def filled(node: ast.expr) -> str | None:
    """A sentence of the source with a number where a value stands."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(p.value) if isinstance(p, ast.Constant) else "7" for p in node.values)
    return None


def reasons() -> Iterator[str]:
    for name in SHOWN:
        tree = ast.parse(Path(ROOT / "analytics" / "kernel" / f"{name}.py").read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "NotEstimableError":
                text = filled(node.args[0]) if node.args else None
                if text:
                    yield text
            if isinstance(node, ast.FunctionDef) and node.name == "_verdict":
                for part in ast.walk(node):
                    text = filled(part) if isinstance(part, ast.JoinedStr) else None
                    if text:
                        yield text


def test_every_reason_of_the_kernel_is_said_in_spanish() -> None:
    found = {*reasons(), mcbf.NO_CYCLES, mcbf.NO_FAILURES, recurrence.ONE_DOOR}
    found.add(trend.NO_FAILURES.reason)
    assert len(found) >= 24
    with translation.override("es"):
        english = [text for text in found if why_missing(text) == text]
    assert english == []
    with translation.override("en"):
        assert [text for text in found if why_missing(text) != text] == []


def test_two_sentences_are_both_said_with_their_numbers() -> None:
    both = (
        "With failures on 3 doors hardly anything can be proved. "
        "A slope needs at least two failures, got 1."
    )
    with translation.override("es"):
        said = why_missing(both)
    assert "3" in said
    assert said.endswith("1.")
    assert not re.search(r"\b(the|with|needs)\b", said)


@pytest.mark.parametrize("text", ["", "Typed by a person."])
def test_what_is_no_reason_stays(text: str) -> None:
    with translation.override("es"):
        assert why_missing(text) == text


def test_no_sentence_is_told_twice() -> None:
    assert len(set(SENTENCES)) == len(SENTENCES)
