"""Fault traces are begun, answered and taken back; the pure engine says where each stands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from fleetdoors.templatetags.units import as_typed, unit_shown
from inspections.models import (
    Fault,
    FaultTrace,
    HoldReason,
    Measurement,
    TraceAnswer,
    Visit,
    VisitState,
)
from inspections.models.spring_authorisation import may_work_on_springs
from inspections.services.holds import place_hold
from inspections.services.reservations import keep_for_trace
from inspections.services.visits import locked
from inspections.tracing.answers import REFUSALS, Answer, AnswerRefusedError, Reply
from inspections.tracing.context import Context
from inspections.tracing.engine import Position
from inspections.tracing.engine import trace as walk_tree
from inspections.tracing.tree import TREE
from inspections.typed_values import Typed, check_typed

# What a hard stop keeps the door for, by its verdict; spring and cable where it is none of these.
HOLD_OF_VERDICT = {"V20": HoldReason.RUNS_BY_ITSELF}


class TraceRefusedError(ValueError):
    """The answer is not allowed here; `code` is the engine's, or one of this program's."""

    def __init__(self, message: str, *, code: str) -> None:
        super().__init__(message)
        self.code = code


@transaction.atomic
def begin_trace(
    *,
    door: DoorUnit,
    symptom: str,
    begun_at: datetime,
    entered_at: datetime,
    engine_running: bool = False,
    begun_by: User | None = None,
    visit: Visit | None = None,
) -> FaultTrace:
    """Begin a search; one that is open for the same symptom is gone on with."""
    DoorUnit.objects.select_for_update().get(pk=door.pk)
    visit = locked(visit) if visit else None
    if visit and (visit.door_id != door.pk or visit.state != VisitState.OPEN):
        raise TraceRefusedError(
            _("A trace belongs to an open visit of its door: this one is “%(state)s”.")
            % {"state": visit.get_state_display()},
            code="visit",
        )
    going_on = FaultTrace.objects.filter(door=door, symptom=symptom, closed_at=None).first()
    if going_on and going_on.visit_id == (visit.pk if visit else None):
        return going_on
    if going_on:
        # What was seen on another visit is not known on this one.
        going_on.closed_at = max(begun_at, going_on.begun_at)
        going_on.save(update_fields=("closed_at",))
    return FaultTrace.objects.create(
        door=door,
        visit=visit,
        symptom=symptom,
        engine_running=engine_running,
        begun_at=begun_at,
        begun_by=begun_by,
        entered_at=entered_at,
    )


@transaction.atomic
def answer_question(
    *,
    trace: FaultTrace,
    answer: Answer,
    sequence: int,
    answered_at: datetime,
    entered_at: datetime,
    answered_by: User | None = None,
) -> Position:
    """Keep an answer; one that is on record under its number already is kept once.

    A hard stop keeps the truck or takes the power off the door at once: a technician found it.
    """
    trace = _locked(trace)
    answers = _answers(trace)
    if sequence <= len(answers):
        return position_of(trace)
    if answer.reply == Reply.SIGNED:
        _check_signature(answered_by, answered_at)
    position = _fold(trace, [*answers, answer])
    _check_values(trace, answer)
    number = trace.answers.count() + 1
    TraceAnswer.objects.create(
        trace=trace,
        sequence=number,
        node=answer.node,
        kind=answer.reply,
        values=dict(answer.values),
        jump_reason=answer.reason[:200],
        answered_at=answered_at,
        answered_by=answered_by,
    )
    _note(trace, position, answered_at)
    if position.verdict:
        keep_for_trace(trace=trace, components=position.components, at=entered_at, by=answered_by)
    if position.is_hard_stop:
        _hold(trace, position, answered_at, entered_at, answered_by)
    return position


@transaction.atomic
def take_back_answer(*, trace: FaultTrace, taken_back_at: datetime) -> Position:
    """Take the last answer back; it stays on record. A hold that it placed stands."""
    trace = _locked(trace)
    last = trace.answers.in_force().last()
    if last is None:
        raise TraceRefusedError(_("There is no answer to take back."), code="nothing")
    if trace.fault_id:
        raise TraceRefusedError(
            _("A fault was written from this trace: correct the fault instead."), code="closed"
        )
    last.withdrawn_at = taken_back_at
    last.save(update_fields=("withdrawn_at",))
    trace.closed_at = None
    position = position_of(trace)
    _note(trace, position, taken_back_at)
    keep_for_trace(trace=trace, components=(), at=taken_back_at)
    return position


@transaction.atomic
def close_trace(*, trace: FaultTrace, fault: Fault, closed_at: datetime) -> FaultTrace:
    """Tie the fault written from a verdict to its trace, and end the search."""
    trace = _locked(trace)
    if fault.door_id != trace.door_id:
        raise TraceRefusedError(
            _("A trace leads to a fault of its own door, %(door)s.") % {"door": trace.door},
            code="door",
        )
    trace.fault = fault
    trace.closed_at = max(closed_at, trace.begun_at)
    trace.save(update_fields=("fault", "closed_at"))
    return trace


def position_of(trace: FaultTrace) -> Position:
    """Where the trace stands; queries a few times."""
    return _fold(trace, _answers(trace))


def context_of(trace: FaultTrace) -> Context:
    """What the trace knows before its first question; queries once."""
    model = trace.door.door_model
    baselines = {each.quantity: each for each in Measurement.objects.baselines(trace.door)}
    motor = baselines.get("motor_amps")
    return Context(
        supply_volts=model.supply_volts,
        engine_running=trace.engine_running,
        drive_volts=model.drive_volts,
        drive_volts_low=model.drive_volts_low,
        drive_volts_high=model.drive_volts_high,
        cable_awg=model.cable_awg,
        cable_metres=model.cable_metres,
        motor_baseline_amps=motor.value if motor else None,
        counts_per_cycle=model.counts_per_cycle,
        counter_digits=model.counter_digits,
    )


def _locked(trace: FaultTrace) -> FaultTrace:
    DoorUnit.objects.select_for_update().get(pk=trace.door_id)
    return FaultTrace.objects.select_related("door__door_model", "visit").get(pk=trace.pk)


def _answers(trace: FaultTrace) -> list[Answer]:
    return [
        Answer(row.node, row.kind, row.values, row.jump_reason) for row in trace.answers.in_force()
    ]


def _fold(trace: FaultTrace, answers: list[Answer]) -> Position:
    try:
        return walk_tree(trace.symptom, answers, context_of(trace), _earlier(trace))
    except AnswerRefusedError as refused:
        raise TraceRefusedError(_(REFUSALS[refused.code]), code=refused.code) from refused


def _earlier(trace: FaultTrace) -> tuple[Answer, ...]:
    """What another trace of the same visit leaves known: nothing is asked twice in a visit."""
    if trace.visit_id is None:
        return ()
    others = FaultTrace.objects.filter(visit_id=trace.visit_id, pk__lt=trace.pk)
    before = others.select_related("door__door_model", "visit").order_by("-pk").first()
    return position_of(before).kept if before else ()


def _note(trace: FaultTrace, position: Position, moment: datetime) -> None:
    trace.verdict = position.verdict or ""
    trace.is_unproven = position.is_unproven
    if position.is_closed:
        trace.closed_at = max(moment, trace.begun_at)
    trace.save(update_fields=("verdict", "is_unproven", "closed_at"))


def _hold(
    trace: FaultTrace,
    position: Position,
    placed_at: datetime,
    entered_at: datetime,
    placed_by: User | None,
) -> None:
    verdict = position.verdict or ""
    place_hold(
        door=trace.door,
        because=HOLD_OF_VERDICT.get(verdict, HoldReason.SPRING_OR_CABLE),
        detail=_("Found while tracing “%(symptom)s”: %(verdict)s")
        % {"symptom": trace.get_symptom_display(), "verdict": verdict},
        placed_at=placed_at,
        entered_at=entered_at,
        placed_by=placed_by,
    )


def _check_values(trace: FaultTrace, answer: Answer) -> None:
    """Raise TraceRefusedError for a value that no meter can show."""
    node = TREE.nodes.get(answer.node)
    for asked in node.fields if node else ():
        value = answer.values.get(asked.name)
        if not asked.quantity or not isinstance(value, int | float):
            continue
        # Drift has a sign; how far is what can be judged.
        typed = abs(value) if asked.quantity == "millimetres" else value
        checked = check_typed(asked.quantity, typed, trace.door.door_model.supply_volts)
        if checked.verdict == Typed.IMPOSSIBLE:
            raise TraceRefusedError(
                _(
                    "%(name)s cannot read %(value)s %(unit)s: "
                    "between %(low)s and %(high)s is possible."
                )
                % {
                    "name": _(asked.label),
                    "value": as_typed(value, asked.unit),
                    "unit": unit_shown(asked.unit),
                    "low": as_typed(checked.low, asked.unit),
                    "high": as_typed(checked.high, asked.unit),
                },
                code="impossible_value",
            )


def _check_signature(person: User | None, moment: datetime) -> None:
    if person is None or not may_work_on_springs(person, timezone.localdate(moment)):
        raise TraceRefusedError(
            _("Only a person trained and authorized for spring work signs here: %(person)s.")
            % {"person": person or _("nobody")},
            code="not_trained",
        )
