"""The small language in which the tree says where an answer leads.

A phone without signal reads the same data, so an expression is what JSON can carry:

======================================  =========================================================
number, true, false, null               itself; null is "not known"
["text", "sinks"]                       a word, for comparing with a choice
["value", "N11.input_volts"]            what is known under that name, else the tree's `derived`
                                        expression of that name, else null
["+", a, b] ["-", a, b] ["*", a, b]     arithmetic; null if either is null
["min", a, ...] ["max", a, ...]         of all arguments; null if any is null
["abs", a]                              size of a number
["first", a, ...]                       the first argument that is not null
["known", a]                            whether a is not null
["<=", a, b] ["<", a, b]                comparison with 1e-9 of slack (decimals added and
[">=", a, b] [">", a, b]                subtracted miss a limit by 1e-15): "<=" and ">=" give way
                                        by it, "<" and ">" ask for more than it; null if either
                                        is null
["==", a, b]                            equal words or truth values; numbers within 1e-9; null if
                                        either is null
["and", a, ...] ["or", a, ...]          three-valued: one false settles "and", one true settles
["not", a]                              "or", else null if any is null
======================================  =========================================================

A route is taken only if its expression is true: what is not known never opens one.
Names: a node's field is `N11.input_volts`, a yes/no node `N01.yes`; `N17.passed` says whether a
node was answered and passed, `N17.outcome` how, `repairs` how many verdicts of the trace were
repaired; all others are the context's (`context.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

Value: TypeAlias = "float | bool | str | None"
Expression: TypeAlias = "float | bool | str | tuple[Expression, ...] | None"

SLACK = 1e-9


def _number(value: Value) -> float:
    """The number, or an error that shows a fault in the tree and not in an answer."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"Arithmetic needs a number, not {value!r}.")
    return value


def _equal(left: Value, right: Value) -> bool:
    if isinstance(left, bool | str) or isinstance(right, bool | str):
        return type(left) is type(right) and left == right
    return abs(_number(left) - _number(right)) <= SLACK


_ON_KNOWN: dict[str, Callable[..., Value]] = {
    "+": lambda a, b: _number(a) + _number(b),
    "-": lambda a, b: _number(a) - _number(b),
    "*": lambda a, b: _number(a) * _number(b),
    "min": lambda *all_of: min(_number(each) for each in all_of),
    "max": lambda *all_of: max(_number(each) for each in all_of),
    "abs": lambda a: abs(_number(a)),
    "<=": lambda a, b: _number(a) <= _number(b) + SLACK,
    "<": lambda a, b: _number(a) < _number(b) - SLACK,
    ">=": lambda a, b: _number(a) >= _number(b) - SLACK,
    ">": lambda a, b: _number(a) > _number(b) + SLACK,
    "==": _equal,
    "not": lambda a: not a,
}


def _all(values: tuple[Value, ...]) -> Value:
    if any(value is False for value in values):
        return False
    return None if None in values else True


def _any(values: tuple[Value, ...]) -> Value:
    if any(value is True for value in values):
        return True
    return None if None in values else False


_ON_ANY: dict[str, Callable[[tuple[Value, ...]], Value]] = {
    "and": _all,
    "or": _any,
    "first": lambda values: next((each for each in values if each is not None), None),
    "known": lambda values: values[0] is not None,
}
OPERATIONS = frozenset({"value", "text", *_ON_KNOWN, *_ON_ANY})


def evaluate(
    expression: Expression, known: Mapping[str, Value], derived: Mapping[str, Expression]
) -> Value:
    """What an expression comes to, with what is known.

    Raises
    ------
    ValueError
        If an operation is not in the language: `validate_tree` finds such a tree beforehand.
    """
    if not isinstance(expression, tuple):
        return expression
    operation, *operands = expression
    if operation == "text":
        return str(operands[0])
    if operation == "value":
        name = str(operands[0])
        if name in known:
            return known[name]
        return evaluate(derived.get(name), known, derived)
    values = tuple(evaluate(each, known, derived) for each in operands)
    if operation in _ON_ANY:
        return _ON_ANY[str(operation)](values)
    if operation not in _ON_KNOWN:
        raise ValueError(f"An operation is one of {sorted(OPERATIONS)}, not {operation!r}.")
    return None if None in values else _ON_KNOWN[str(operation)](*values)


def names_in(expression: Expression) -> tuple[str, ...]:
    """Every name an expression asks for, in order, also more than once."""
    if not isinstance(expression, tuple):
        return ()
    if expression[0] == "value":
        return (str(expression[1]),)
    return tuple(name for part in expression[1:] for name in names_in(part))


def operations_in(expression: Expression) -> tuple[str, ...]:
    """Every operation in an expression."""
    if not isinstance(expression, tuple):
        return ()
    inner = () if expression[0] in ("value", "text") else expression[1:]
    return (str(expression[0]), *(each for part in inner for each in operations_in(part)))


def value(name: str) -> Expression:
    """What is known under a name."""
    return ("value", name)


def is_word(name: str, word: str) -> Expression:
    """Whether a choice was this one."""
    return ("==", value(name), ("text", word))


def both(*parts: Expression) -> Expression:
    """Whether all hold."""
    return ("and", *parts)


def either(*parts: Expression) -> Expression:
    """Whether any holds."""
    return ("or", *parts)


def per_supply(volts: float) -> Expression:
    """Volts of a 12 V truck, at this truck's supply."""
    return ("*", volts, value("supply_factor"))
