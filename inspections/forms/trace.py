"""What a person answers in a fault trace, from a form to the engine's words."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from fleetdoors.measures import System, scale_of
from inspections.forms.fields import typed_system
from inspections.tracing.answers import Answer, Reply
from inspections.tracing.elements import Field
from inspections.tracing.predicates import Value
from inspections.tracing.tree import TREE

FIELD_PREFIX = "values."


def answer_from(data: Mapping[str, str]) -> Answer:
    """The answer; ValueError where a number is none."""
    code = data.get("node", "")
    node = TREE.nodes.get(code)
    typed, system = {}, typed_system(data)
    for each in node.fields if node else ():
        text = data.get(FIELD_PREFIX + each.name, "").strip()
        if text:
            typed[each.name] = _value(each, text, system)
    reply = data.get("reply", "")
    if reply not in list(Reply):
        raise ValueError(_("Choose an answer: “%(reply)s” is none.") % {"reply": reply})
    return Answer(code, reply, typed, data.get("reason", "").strip()[:200])


def _value(asked: Field, text: str, system: System) -> Value:
    if asked.kind == "yes_no":
        return text == "yes"
    if asked.kind == "choice":
        return text
    try:
        return scale_of(asked.unit, system).kept(float(text.replace(",", ".")))
    except ValueError as error:
        raise ValueError(
            _("%(name)s is a number; “%(text)s” is none.") % {"name": _(asked.label), "text": text}
        ) from error
