"""A door's life on one strip: readings, work, faults and parts along its cycles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, tzinfo

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.reports.followed_door import FollowedDoor
from fleetdoors.life_strip import (
    DateMark,
    Ending,
    EventKind,
    EventMark,
    LifeStrip,
    PartSpan,
    ReadingMark,
    draw_life,
)
from fleetdoors.models import Fitment, Removal
from fleetdoors.templatetags.units import day, moment, number
from inspections.models import CounterReading, Fault, ReadingStatus, TaskDone
from inspections.views.place import Place

_ENDINGS = {
    Removal.FAILED: Ending.FAILURE,
    Removal.PREVENTIVE: Ending.PLANNED,
    Removal.OTHER: Ending.OTHER,
}


@dataclass(frozen=True)
class DoorLife:
    """The strip, what it says in words, and the numbers behind it."""

    strip: LifeStrip
    caption: str
    summary: str
    headings: list[str]
    rows: list[list[str]]


@dataclass(frozen=True)
class _Window:
    """From where to where the strip runs."""

    start: float
    end: float

    def hold(self, cycles: float | None) -> float:
        """The cycles, moved inside the strip; where they are unknown, its end."""
        return self.end if cycles is None else min(max(cycles, self.start), self.end)


def door_life(
    place: Place,
    followed: FollowedDoor,
    readings: Sequence[CounterReading],
    faults: Sequence[Fault],
    done: Sequence[TaskDone],
) -> DoorLife | None:
    """The strip of a door with something on record; queries the parts once."""
    window = _window(followed)
    if window is None:
        return None
    zone = place.zone
    fitments = list(
        place.door.fitments.in_force()
        .select_related("component")
        .order_by("component__name", "position", "fitted_at_cycles", "pk")
    )
    spans = [_span(row, followed, window) for row in fitments]
    events = [
        *(_fault_mark(row, followed.cycles_at(row.found_at, zone), window) for row in faults),
        *(_task_mark(row, followed.cycles_at(row.done_at, zone), window) for row in done),
    ]
    marks = list(_reading_marks(readings, followed, window, zone))
    strip = draw_life(
        start_cycles=window.start,
        end_cycles=window.end,
        readings=marks,
        events=events,
        spans=spans,
        dates=_years(followed, window, readings),
    )
    return DoorLife(
        strip=strip,
        caption=_caption(window, readings, faults),
        summary=_summary(events),
        headings=[_("At cycles"), _("What")],
        rows=_numbers(marks, events, spans),
    )


def _window(followed: FollowedDoor) -> _Window | None:
    if followed.is_empty:
        return None
    start = float(followed.exposure.start_cycles[0])
    end = float(followed.exposure.end_cycles[0])
    return _Window(start, end) if end > start else None


def _reading_marks(
    readings: Sequence[CounterReading], followed: FollowedDoor, window: _Window, zone: tzinfo
) -> Iterator[ReadingMark]:
    """Accepted readings at their cycles; a held one stands where the door was at that moment."""
    cycles = followed.cycles_by_reading()
    for row in readings:
        is_held = row.pk not in cycles
        if is_held and row.status != ReadingStatus.HELD:
            continue
        at = cycles.get(row.pk)
        if at is None:
            at = followed.cycles_at(row.read_at, zone)
        label = _("%(value)s, read %(moment)s") % {
            "value": number(row.counter_value),
            "moment": moment(row.read_at),
        }
        yield ReadingMark(window.hold(at), label, is_held)


def _fault_mark(row: Fault, at_moment: float | None, window: _Window) -> EventMark:
    at = window.hold(row.at_cycles if row.at_cycles is not None else at_moment)
    name = row.component or row.get_complaint_display() or _("fault")
    return EventMark(at, f"{name}, {day(row.found_at)}", EventKind.FAULT)


def _task_mark(row: TaskDone, at_moment: float | None, window: _Window) -> EventMark:
    at = window.hold(row.at_cycles if row.at_cycles is not None else at_moment)
    return EventMark(at, f"{row.task}, {day(row.done_at)}", EventKind.TASK)


def _span(row: Fitment, followed: FollowedDoor, window: _Window) -> PartSpan:
    start = window.hold(row.fitted_at_cycles if row.fitted_at_cycles is not None else window.start)
    end = window.end
    if row.removal:
        removed: float | None = row.removed_at_cycles
        if removed is None and row.removed_on:
            removed = followed.cycles_on(row.removed_on)
        end = max(window.hold(removed), start)
    name = f"{row.component}, {row.position}" if row.position else str(row.component)
    ending = _ENDINGS[Removal(row.removal)] if row.removal else Ending.RUNNING
    known = row.fitted_at_cycles is not None and row.fitted_at_cycles >= window.start
    return PartSpan(name, start, end, ending, _span_label(name, row), is_start_known=known)


def _span_label(name: str, row: Fitment) -> str:
    return _("%(name)s: %(ending)s") % {
        "name": name,
        "ending": row.get_removal_display() if row.removal else _("still running"),
    }


def _years(
    followed: FollowedDoor, window: _Window, readings: Sequence[CounterReading]
) -> list[DateMark]:
    """Where the turns of the years fell, of the years that readings lie in."""
    if not readings:
        return []
    first, last = readings[-1].read_at.year, readings[0].read_at.year
    marks = []
    for year in range(first + 1, last + 1):
        at = followed.cycles_on(date(year, 1, 1))
        if at is not None and window.start < at < window.end:
            marks.append(DateMark(at, str(year)))
    return marks


def _caption(window: _Window, readings: Sequence[CounterReading], faults: Sequence[Fault]) -> str:
    read = ngettext("%(n)s reading", "%(n)s readings", len(readings)) % {"n": number(len(readings))}
    failed = ngettext("%(n)s fault", "%(n)s faults", len(faults)) % {"n": number(len(faults))}
    return _("%(cycles)s cycles on record, %(readings)s, %(faults)s") % {
        "cycles": number(window.end - window.start),
        "readings": read,
        "faults": failed,
    }


def _summary(events: Sequence[EventMark]) -> str:
    """The faults in words, for those who do not see the strip."""
    at = [number(each.at_cycles) for each in events if each.kind is EventKind.FAULT]
    if not at:
        return _("No fault on record.")
    return _("Faults at %(cycles)s cycles.") % {"cycles": ", ".join(reversed(at))}


def _numbers(
    marks: Sequence[ReadingMark], events: Sequence[EventMark], spans: Sequence[PartSpan]
) -> list[list[str]]:
    """Everything on the strip in the order of its cycles."""
    held = _(", to settle")
    rows = [(mark.at_cycles, mark.label + (held if mark.is_held else "")) for mark in marks]
    rows += [(event.at_cycles, event.label) for event in events]
    rows += [(span.start_cycles, _("fitted: %(part)s") % {"part": span.row}) for span in spans]
    ended = [span for span in spans if span.ending is not Ending.RUNNING]
    rows += [(span.end_cycles, span.label) for span in ended]
    return [[number(at), label] for at, label in sorted(rows, key=lambda row: row[0])]
