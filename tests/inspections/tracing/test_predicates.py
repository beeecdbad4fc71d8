"""The language of the routes: every operation, what is unknown, and limits hit exactly."""

from __future__ import annotations

from typing import Any

import pytest

from inspections.tracing.predicates import OPERATIONS, evaluate, names_in, operations_in

KNOWN: dict[str, Any] = {"a": 3.0, "b": 5.0, "yes": True, "no": False, "word": "sinks"}
DERIVED: dict[str, Any] = {"sum": ("+", ("value", "a"), ("value", "b")), "a": 99.0}


def v(name: str) -> Any:
    return ("value", name)


CASES: list[tuple[Any, Any]] = [
    (7.0, 7.0),
    (None, None),
    (v("a"), 3.0),
    (v("nothing"), None),
    (v("sum"), 8.0),
    (("-", v("a"), v("b")), -2.0),
    (("*", v("a"), 2.0), 6.0),
    (("min", v("a"), v("b"), 4.0), 3.0),
    (("max", v("a"), v("b"), 4.0), 5.0),
    (("abs", ("-", v("a"), v("b"))), 2.0),
    (("+", v("a"), v("nothing")), None),
    (("max", v("a"), v("nothing")), None),
    (("first", v("nothing"), v("b"), 1.0), 5.0),
    (("first", v("nothing")), None),
    (("known", v("nothing")), False),
    (("known", v("no")), True),
    (("<=", v("a"), 3.0), True),
    (("<", v("a"), 3.0), False),
    ((">=", v("a"), 3.0), True),
    ((">", v("b"), 3.0), True),
    ((">", v("nothing"), 3.0), None),
    # 0.1 + 0.2 is 4e-17 above 0.3: neither side of a limit may depend on that.
    (("<=", ("+", 0.1, 0.2), 0.3), True),
    ((">", ("+", 0.1, 0.2), 0.3), False),
    (("==", ("+", 0.1, 0.2), 0.3), True),
    (("==", v("word"), ("text", "sinks")), True),
    (("==", v("word"), ("text", "rises")), False),
    (("==", v("no"), False), True),
    (("==", v("nothing"), False), None),
    (("==", v("yes"), 1.0), False),
    (("and", True, v("yes")), True),
    (("and", v("nothing"), False), False),
    (("and", v("nothing"), True), None),
    (("or", v("nothing"), True), True),
    (("or", v("nothing"), False), None),
    (("or", False, v("no")), False),
    (("not", v("no")), True),
    (("not", v("nothing")), None),
]


@pytest.mark.parametrize(("expression", "expected"), CASES, ids=str)
def test_an_expression_comes_to(expression: Any, expected: Any) -> None:
    assert evaluate(expression, KNOWN, DERIVED) == expected
    assert type(evaluate(expression, KNOWN, DERIVED)) is type(expected)


def test_every_operation_is_tried() -> None:
    tried = {
        operation for expression, _expected in CASES for operation in operations_in(expression)
    }
    assert tried == OPERATIONS


def test_what_is_known_stands_above_what_is_derived() -> None:
    assert evaluate(v("a"), KNOWN, DERIVED) == 3.0
    assert evaluate(v("a"), {}, DERIVED) == 99.0


def test_names_and_operations_are_found_at_any_depth() -> None:
    expression = ("and", ("<", v("a"), ("+", v("b"), 1.0)), ("==", v("word"), ("text", "value")))
    assert names_in(expression) == ("a", "b", "word")
    assert operations_in(expression) == ("and", "<", "value", "+", "value", "==", "value", "text")


def test_an_operation_outside_the_language_is_an_error() -> None:
    with pytest.raises(ValueError, match="not 'xor'"):
        evaluate(("xor", True, False), {}, {})
    with pytest.raises(TypeError, match="Arithmetic needs a number, not 'sinks'"):
        evaluate(("+", v("word"), 1.0), KNOWN, {})
