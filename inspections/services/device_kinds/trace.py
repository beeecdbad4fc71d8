"""Answers of a fault trace that was walked on the phone, and answers taken back."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from inspections.codes import Complaint
from inspections.models import FaultTrace, TraceAnswer
from inspections.services.device_kinds.arriving import (
    Arrived,
    Became,
    Difference,
    EntryRefusedError,
)
from inspections.services.tracing import answer_question, begin_trace, take_back_answer
from inspections.tracing.answers import Answer
from inspections.tracing.as_json import answer_from_json


def take_trace_answer(entry: Arrived) -> Became:
    """An answer under its number; the first one begins the trace."""
    trace = _trace(entry)
    answer = answer_from_json({**entry.fields, "node": entry.fields.get("node")})
    sequence = _sequence(entry)
    _check_against_record(trace, sequence, answer)
    answer_question(
        trace=trace,
        answer=answer,
        sequence=sequence,
        answered_at=entry.happened_at,
        entered_at=entry.received_at,
        answered_by=entry.author,
    )
    return {"trace": trace.pk}


def take_answer_taken_back(entry: Arrived) -> Became:
    """The last answer of a trace was taken back; it stays on record."""
    trace = _trace(entry)
    count = trace.answers.in_force().count()
    if _sequence(entry) != count:
        raise EntryRefusedError(
            _("Only the last answer is taken back: %(count)d are on record, this was %(number)d.")
            % {"count": count, "number": _sequence(entry)}
        )
    take_back_answer(trace=trace, taken_back_at=entry.happened_at)
    return {"trace": trace.pk}


def _trace(entry: Arrived) -> FaultTrace:
    """The open trace of the entry's door and symptom, begun where there is none."""
    symptom = str(entry.about.get("symptom", ""))
    if symptom not in Complaint.values:
        raise EntryRefusedError(_("There is no such symptom: “%(code)s”.") % {"code": symptom})
    door = entry.door()
    visit = None
    if entry.visit():
        visit = entry.open_visit(said=symptom, what=_("Fault trace"))
    return begin_trace(
        door=door,
        symptom=symptom,
        begun_at=entry.happened_at,
        entered_at=entry.received_at,
        engine_running=entry.is_ticked("engine_running"),
        begun_by=entry.author,
        visit=visit,
    )


def _sequence(entry: Arrived) -> int:
    typed = str(entry.about.get("sequence", ""))
    if not typed.isdecimal() or int(typed) < 1:
        raise EntryRefusedError(
            _("An answer has its number, from 1: “%(number)s” is none.") % {"number": typed}
        )
    return int(typed)


def _check_against_record(trace: FaultTrace, sequence: int, answer: Answer) -> None:
    """Refuse an answer whose place is taken by another one, or before which one is missing."""
    on_record = list(trace.answers.in_force())
    if sequence > len(on_record) + 1:
        raise EntryRefusedError(
            _("Answer %(number)d came without the one before it: %(count)d are on record.")
            % {"number": sequence, "count": len(on_record)}
        )
    if sequence == len(on_record) + 1:
        return
    other = on_record[sequence - 1]
    if (other.node, other.kind, other.values) == (answer.node, answer.reply, dict(answer.values)):
        return
    raise EntryRefusedError(
        _("This trace was gone on with elsewhere: answer %(number)d is another one there.")
        % {"number": sequence},
        differences=_both(other, answer),
    )


def _both(other: TraceAnswer, answer: Answer) -> list[Difference]:
    told = [
        Difference(_("Question"), answer.node, other.node),
        Difference(_("Answer"), str(answer.reply), str(other.get_kind_display())),
    ]
    names = sorted({*answer.values, *other.values})
    return told + [
        Difference(name, _shown(answer.values.get(name)), _shown(other.values.get(name)))
        for name in names
    ]


def _shown(value: Any) -> str:
    return "–" if value is None else str(value)
