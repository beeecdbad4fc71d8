"""What a technician answers, and why an answer may not be taken."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from inspections.tracing.elements import Field, Kind, Node, _
from inspections.tracing.predicates import Value


class Reply(StrEnum):
    """How a node was answered."""

    YES = "yes"
    NO = "no"
    MEASURED = "measured"
    CANNOT_TELL = "cannot_tell"
    SIGNED = "signed"


@dataclass(frozen=True)
class Answer:
    """An answer to a node, or a signature under a verdict that stopped the trace.

    `reason` is why another node than the one asked is answered; under a signature, who signed.
    """

    node: str
    reply: str
    values: Mapping[str, Value] = field(default_factory=dict)
    reason: str = ""


REFUSALS = {
    "unknown_symptom": _("There is no such symptom."),
    "unknown_node": _("There is no such test."),
    "not_askable": _("This test is not answered by a person."),
    "bad_reply": _("This test is not answered in this way."),
    "missing_value": _("A value is missing; what could not be read makes it: cannot tell."),
    "bad_value": _("A value does not belong to this test, or is not of its kind."),
    "stopped": _("The door is stopped: nothing is tested until a trained person has signed."),
    "not_stopped": _("There is no stop here to sign."),
    "needs_reason": _("Leaving the order, or signing, needs a reason or a name."),
    "before_first_look": _("Nothing is tested before spring and lift cables were looked at."),
    "powered_too_early": _("No powered test before the door has passed without power."),
    "closed": _("This trace is closed: begin a new one."),
}


class AnswerRefusedError(ValueError):
    """An answer that the rules do not allow.

    `code` is a key of `REFUSALS`; `index` is the answer's place in its list, counted from the end
    and negative for the answers brought along from earlier traces.
    """

    def __init__(self, code: str, index: int) -> None:
        super().__init__(f"Answer {index}: {REFUSALS[code]}")
        self.code = code
        self.index = index


_REPLIES = {
    Kind.YES_NO: {Reply.YES, Reply.NO, Reply.CANNOT_TELL},
    Kind.MEASURED: {Reply.MEASURED, Reply.CANNOT_TELL},
}


def _fits(asked: Field, given: Value) -> bool:
    if asked.kind == "yes_no":
        return isinstance(given, bool)
    if asked.kind == "choice":
        return given in [code for code, _words in asked.options]
    is_number = isinstance(given, int | float) and not isinstance(given, bool)
    return is_number and math.isfinite(given)  # type: ignore[arg-type]


def defect_of(node: Node, answer: Answer) -> str | None:
    """The code of what is wrong with an answer to a node, or nothing."""
    if node.kind is Kind.AUTOMATIC:
        return "not_askable"
    if answer.reply not in _REPLIES[node.kind]:
        return "bad_reply"
    fields = {each.name: each for each in node.fields}
    given = {name: each for name, each in answer.values.items() if each is not None}
    if any(name not in fields or not _fits(fields[name], each) for name, each in given.items()):
        return "bad_value"
    missing = [each for each in node.fields if each.required and each.name not in given]
    return "missing_value" if missing and answer.reply == Reply.MEASURED else None
