"""What a reading that was just saved comes to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analytics.models import DoorFigures, SuspectReading
from analytics.reports.basis import Basis
from analytics.reports.door_page import DoorTask, door_tasks
from analytics.reports.due_page import figures_of
from analytics.reports.followed_door import follow_door
from analytics.reports.suspicion import ASK_A_PERSON, Suspicion, expected_words, suspicion
from inspections.models import CounterReading
from inspections.views.place import Place

TASKS_SHOWN = 4


@dataclass(frozen=True)
class ReadingAnswer:
    """The range expected, the lifetime cycles, what is suspected, and the tasks it moves."""

    is_waiting: bool
    figures: DoorFigures | None
    expected: str
    cycles: float | None
    suspicion: Suspicion | None
    needs_a_look: bool
    tasks: list[DoorTask]


def reading_answer(
    reading: CounterReading, place: Place, basis: Basis, *, now: datetime
) -> ReadingAnswer:
    """What is said of a reading once its door's figures know of it."""
    figures = figures_of([place.door.pk], basis.run).get(place.door.pk)
    followed = follow_door(place.door, basis.run, now=now)
    suspect = (
        SuspectReading.objects.filter(generation=basis.run, reading=reading)
        .select_related("reading", "other_door")
        .first()
    )
    expected = followed.expected_by_reading().get(reading.pk)
    return ReadingAnswer(
        is_waiting=figures is None or figures.door_revision < place.door.revision,
        figures=figures,
        expected=expected_words(expected.low, expected.high) if expected else "",
        cycles=followed.cycles_by_reading().get(reading.pk),
        suspicion=suspicion(suspect) if suspect else None,
        needs_a_look=figures is not None and figures.holds_in_row >= ASK_A_PERSON,
        tasks=door_tasks(place.door, figures, basis)[:TASKS_SHOWN],
    )
