"""What a phone needs to know of a door before it walks the tree by itself."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from fleetdoors.models import Caution, DoorUnit
from fleetdoors.services.whereabouts import present_depot
from fleetdoors.units_in_use import scales_as_json
from inspections.codes import Complaint
from inspections.models import FaultTrace, Visit, VisitState
from inspections.services.cause_shares import cause_basis
from inspections.services.tracing import context_of, position_of
from inspections.tracing.answers import Answer
from inspections.tracing.as_json import answer_as_json


def trace_facts(door: DoorUnit) -> dict[str, Any]:
    """The door's context, the fleet's own experience, and the traces begun; queries a few times."""
    visit = Visit.objects.filter(door=door, state=VisitState.OPEN).first()
    not_begun = FaultTrace(door=door, symptom=Complaint.S1)
    return {
        "door": door.serial,
        "visit": visit.pk if visit else None,
        "context": context_of(not_begun).values(),
        "scales": scales_as_json(),
        "priors": dict(cause_basis(present_depot(door)).shares),
        "open": _open_traces(door, visit),
        "earlier": _known_on(visit),
        "cautions": {
            each.code: {"signal": each.get_signal_word_display(), "text": each.words}
            for each in Caution.objects.order_by("code")
        },
    }


def _open_traces(door: DoorUnit, visit: Visit | None) -> dict[str, Any]:
    """The answers on record of each trace that a phone would go on with."""
    traces = FaultTrace.objects.filter(door=door, visit=visit, closed_at=None)
    return {
        trace.symptom: {
            "engine_running": trace.engine_running,
            "answers": [
                answer_as_json(Answer(row.node, row.kind, row.values, row.jump_reason))
                for row in trace.answers.in_force()
            ],
        }
        for trace in traces
    }


def _known_on(visit: Visit | None) -> list[dict[str, Any]]:
    """What the last trace of the visit leaves known: nothing is asked twice in a visit."""
    if visit is None:
        return []
    last = visit.traces.select_related("door__door_model", "visit").order_by("-pk").first()
    return [answer_as_json(answer) for answer in position_of(last).kept] if last else []


def words() -> dict[str, str]:
    """What the page says while it walks; `{…}` is filled in on the phone."""
    return {
        "yes": _("Yes"),
        "no": _("No"),
        "cannot_tell": _("Cannot tell"),
        "measured": _("That is what it read"),
        "not_said": _("not said"),
        "between": _("{low} to {high} {unit} holds"),
        "at_least": _("at least {low} {unit} holds"),
        "at_most": _("at most {high} {unit} holds"),
        "take_back": _("Take the last answer back"),
        "stop": _("Stop here"),
        "sign": _("A trained person signs: name"),
        "signed": _("Signed, go on"),
        "verdict": _("It is most likely: {name}"),
        "unproven": _("Not proven: {count} of the steps could not be done."),
        "parts": _("Parts that this takes: {parts}"),
        "go_on": _("After the repair, go on"),
        "record": _("Record the fault"),
        "likely": _("Most likely so far"),
        "chance": _("{name}, {percent} in 100"),
        "sooner": _("Ask this first, it saves about {minutes} minutes: {question}"),
        "sooner_reason": _("saves time on average"),
        "answered": _("What was answered"),
        "again": _("Another search at this door"),
        "no_tree": _("The questions are not on this phone yet. Open this page once with a signal."),
        "escalate": _("Nothing was found twice: hand this to the next level."),
        "once_more": _("Change it, or answer once more as it stands."),
        "label": _("Search on door {door}: {question}"),
        "taken_back": _("Answer taken back on door {door}"),
    }
