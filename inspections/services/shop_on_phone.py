"""What every door's pages share on a phone: tasks, parts, codes, people, cautions, typed values."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from fleetdoors.models import Caution, Component, MaintenanceTask, Part, User
from fleetdoors.templatetags.units import day as day_in_words
from inspections.codes import FAILURE_MODES
from inspections.forms.visit import colleagues_of
from inspections.models import JobKind, SpringAuthorisation, VisitJob
from inspections.models.safety_tick import NEVER_SKIPPED
from inspections.quantities import QUANTITIES
from inspections.services.safety import ALWAYS
from inspections.services.visit_on_phone import job_facts
from inspections.tracing.as_json import typed_values_as_json


def shop_facts(as_of: date, *, reader: User) -> dict[str, Any]:
    """Everything that no single door owns; a constant number of queries."""
    return {
        "tasks": _tasks(),
        "modes": _modes(),
        "parts": _parts(),
        "people": _people(as_of, reader),
        "cautions": {
            each.code: {
                "signal": each.get_signal_word_display(),
                "word": each.signal_word,
                "text": each.words,
            }
            for each in Caution.objects.order_by("code")
        },
        "ticks_always": [str(each) for each in ALWAYS],
        "ticks_never_skipped": [str(each) for each in NEVER_SKIPPED],
        "typed_values": typed_values_as_json(),
        "quantities": {
            each.code: {"typed_as": each.typed_as, "name": str(each.name), "unit": each.unit}
            for each in QUANTITIES.values()
            if each.typed_as
        },
    }


def _tasks() -> list[dict[str, Any]]:
    tasks = MaintenanceTask.objects.on_due_lists().prefetch_related("cautions")
    return [job_facts(VisitJob(kind=JobKind.TASK, task=task)) for task in tasks]


def _modes() -> list[dict[str, str]]:
    names = {each.code: str(each) for each in Component.objects.order_by("code")}
    return [
        {
            "code": mode.code,
            "name": str(mode.name),
            "component": mode.component,
            "group": names.get(mode.component, mode.component),
        }
        for mode in FAILURE_MODES.values()
    ]


def _parts() -> list[dict[str, Any]]:
    parts = Part.objects.select_related("component").prefetch_related("fits")
    return [
        {
            "value": str(part.pk),
            "label": str(part),
            "group": str(part.component or ""),
            "component": part.component.code if part.component else "",
            "fits": [model.pk for model in part.fits.all()],
        }
        for part in parts.order_by("component__name", "part_number")
    ]


def _people(as_of: date, reader: User) -> list[dict[str, Any]]:
    """Who may work at the reader's depots, and until when each is authorized for spring work."""
    valid = SpringAuthorisation.objects.valid_on(as_of).order_by("until_on")
    until = {word.person_id: word.until_on for word in valid}
    people: Iterable[User] = colleagues_of(reader)
    return [
        {
            "pk": person.pk,
            "name": str(person),
            "springs_until": until[person.pk].isoformat() if person.pk in until else "",
            "springs_until_words": day_in_words(until[person.pk]) if person.pk in until else "",
        }
        for person in people
    ]
