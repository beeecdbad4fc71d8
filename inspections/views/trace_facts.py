"""What the page of a fault trace shows: the question, its limits, the causes, the proposals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from fleetdoors.models import Caution, Part
from fleetdoors.services.whereabouts import present_depot
from fleetdoors.templatetags.units import as_typed, unit_shown
from fleetdoors.units_in_use import in_words
from inspections.models import FaultTrace
from inspections.services.cause_shares import cause_basis
from inspections.services.fitting import parts_for
from inspections.services.tracing import context_of, position_of
from inspections.symptoms import cautions_in_order
from inspections.tracing.answers import Reply
from inspections.tracing.elements import Field, Kind, Node
from inspections.tracing.engine import Position, allowed_jumps
from inspections.tracing.likelihood import GROUPS, cause_likelihoods
from inspections.tracing.limits import FieldLimits, limits_of
from inspections.tracing.ordering import Suggestion, suggest
from inspections.tracing.tree import TREE

# The failure mode that a verdict names, where it names one.
MODE_OF_VERDICT = {
    "V01": "FM01", "V02": "FM02", "V03": "FM03", "V04": "FM04", "V10": "FM05", "V11": "FM06",
    "V12": "FM07", "V14": "FM08", "V16": "FM12", "V18": "FM15", "V19": "FM10", "V20": "FM13",
    "V21": "FM09", "V23": "FM14", "V24": "FM18", "V31": "FM29", "V32": "FM24", "V33": "FM26",
    "V34": "FM28", "V36": "FM34", "V45": "FM23", "V50": "FM38", "V90": "FM25",
}  # fmt: skip


@dataclass(frozen=True)
class AskedField:
    """A value that the question asks for, with what holds beside it."""

    field: Field
    name: str
    label: str
    options: list[tuple[str, str]]
    limits: FieldLimits | None


@dataclass(frozen=True)
class ReplyButton:
    """A way to answer the question."""

    code: str
    label: str
    is_quiet: bool = False


@dataclass(frozen=True)
class Cause:
    """A group of causes and how likely it is now."""

    name: str
    share: float


@dataclass(frozen=True)
class AnswerRow:
    """An answer given, in words."""

    question: str
    reply: str
    values: str
    note: str


def trace_facts(trace: FaultTrace, asked: str) -> dict[str, object]:
    """Everything that the page shows; a constant number of queries."""
    position = position_of(trace)
    symptom = TREE.symptoms[trace.symptom]
    basis = cause_basis(present_depot(trace.door))
    likelihoods = cause_likelihoods(symptom, position, basis.shares)
    suggestion = suggest(symptom, position, likelihoods)
    node = _node_to_show(position, suggestion, asked)
    due = position.node or position.next_node
    facts: dict[str, object] = {
        "position": position,
        "symptom_words": _(symptom.first) if symptom.first else "",
        "causes": _causes(likelihoods),
        "basis": basis,
        "suggestion": suggestion,
        "saves": round(suggestion.saves_minutes) if suggestion else 0,
        "node": node,
        "due": due,
        "is_jump": node is not None and node.code != due,
        "sequence": trace.answers.in_force().count() + 1,
        "steps": _steps(trace, position),
        "cautions": _cautions(position, node, symptom.cautions),
    }
    return facts | _question(trace, position, node) | _verdict(trace, position)


def _said(words: str) -> str:
    """Words of the tree in the language and the units of the person."""
    return in_words(_(words))


def _node_to_show(position: Position, suggestion: Suggestion | None, asked: str) -> Node | None:
    """The node asked for where it may be, or else the suggested one, or else the tree's next."""
    due = position.node or position.next_node
    if position.is_hard_stop:
        return None
    if asked and (asked == due or asked in allowed_jumps(position)):
        return TREE.nodes[asked]
    code = suggestion.node if suggestion else due
    return TREE.nodes[code] if code else None


def _question(trace: FaultTrace, position: Position, node: Node | None) -> dict[str, object]:
    if node is None:
        return {}
    limits = {each.field: each for each in limits_of(node, context_of(trace), position)}
    return {
        "question": _said(node.question),
        "how": _said(node.how) if node.how else "",
        "replies": _replies(node),
        "jump_reason": _("order with fewer minutes to a verdict"),
        "fields": [
            AskedField(
                field=each,
                name=f"values.{each.name}",
                label=_(each.label),
                options=[(code, _(words)) for code, words in each.options],
                limits=limits.get(each.name),
            )
            for each in node.fields
        ],
    }


def _replies(node: Node) -> list[ReplyButton]:
    """Yes is always the good answer; a measured question is saved."""
    cannot_tell = ReplyButton(Reply.CANNOT_TELL, _("Cannot tell"), is_quiet=True)
    if node.kind is Kind.YES_NO:
        return [ReplyButton(Reply.YES, _("Yes")), ReplyButton(Reply.NO, _("No")), cannot_tell]
    return [ReplyButton(Reply.MEASURED, _("Save")), cannot_tell]


def _verdict(trace: FaultTrace, position: Position) -> dict[str, object]:
    if position.verdict is None:
        return {}
    verdict = TREE.verdicts[position.verdict]
    first = next(iter(position.components), "")
    return {
        "verdict": verdict,
        "verdict_name": _(verdict.name),
        "verdict_advice": _said(verdict.advice),
        "unproven": [_said(TREE.nodes[code].question) for code in position.unproven_nodes],
        "proposed": _proposed(trace, position),
        "component": first,
        "mode": MODE_OF_VERDICT.get(verdict.code, ""),
    }


def _proposed(trace: FaultTrace, position: Position) -> QuerySet[Part]:
    """Parts in the catalogue that fit the door and are of a component proposed."""
    return parts_for(trace.door.door_model).filter(component__code__in=position.components)


def _causes(likelihoods: dict[str, float]) -> list[Cause]:
    ordered = sorted(likelihoods.items(), key=lambda each: -each[1])
    return [Cause(_(GROUPS[code].name), share) for code, share in ordered]


def _steps(trace: FaultTrace, position: Position) -> list[AnswerRow]:
    """The answers given, the last first."""
    rows = []
    notes = [step.note for step in position.steps]
    for answer, note in zip(trace.answers.in_force(), notes, strict=True):
        node = TREE.nodes.get(answer.node)
        rows.append(
            AnswerRow(
                question=_said(node.question) if node else _("Signed for the repair"),
                reply=str(answer.get_kind_display()),
                values=_values(node, answer.values),
                note=_(note) if note else "",
            )
        )
    return rows[::-1]


def _values(node: Node | None, values: dict[str, object]) -> str:
    """What was measured, with its units."""
    if node is None:
        return ""
    words = []
    for each in node.fields:
        value = values.get(each.name)
        if value is None:
            continue
        if isinstance(value, bool):
            shown = _("yes") if value else _("no")
        elif each.options:
            shown = _(dict(each.options)[str(value)])
        else:
            shown = f"{as_typed(cast('float', value), each.unit)} {unit_shown(each.unit)}".strip()
        words.append(f"{_(each.label)}: {shown}")
    return ", ".join(words)


def _cautions(position: Position, node: Node | None, of_symptom: tuple[str, ...]) -> list[Caution]:
    verdict = TREE.verdicts.get(position.verdict or "")
    codes = [*(node.cautions if node else ()), *(verdict.cautions if verdict else ())]
    if position.is_hard_stop:
        codes = ["C8", "C1", *codes]
    return cautions_in_order(dict.fromkeys([*codes, *of_symptom, "C10"]))
