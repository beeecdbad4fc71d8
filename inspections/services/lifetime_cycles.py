"""Lifetime cycles of one door at a moment, for the entries that are written at that moment.

Figures are computed elsewhere, over all doors at once; this is the plain sum for one door, so that
a part that goes on today begins its life at a number.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from fleetdoors.models import Counter, DoorUnit
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.models import CounterReading

RATE_WINDOW = timedelta(days=90)


@dataclass(frozen=True)
class Point:
    """Lifetime cycles at a moment."""

    at: datetime
    cycles: float


@dataclass(frozen=True)
class _Segment:
    """A counter's stay, with what its value has to be divided by."""

    fitted_on: date
    first_value: int
    last_value: int | None
    modulus: int
    counts_per_cycle: int


def lifetime_cycles_at(*, door: DoorUnit, moment: datetime) -> int | None:
    """Between readings by the straight line, after the last at the rate of its last 90 days.

    None where nothing was read; before the first reading, that reading's cycles. Queries thrice.
    """
    points = lifetime_points(door)
    if not points:
        return None
    if moment <= points[0].at:
        return round(points[0].cycles)
    for before, after in pairwise(points):
        if moment <= after.at:
            share = (moment - before.at) / (after.at - before.at)
            return round(before.cycles + share * (after.cycles - before.cycles))
    return round(points[-1].cycles + _cycles_since(points, moment))


def lifetime_points(door: DoorUnit) -> list[Point]:
    """Opening cycles plus what each counter ran, at every accepted reading; queries thrice."""
    zone = zone_of(present_depot(door))
    readings = list(CounterReading.objects.accepted().filter(door=door).order_by("read_at", "pk"))
    segments = _segments(door)
    points: list[Point] = []
    cycles, index, value = float(door.opening_cycles), 0, segments[0].first_value
    for reading in readings:
        day = reading.read_at.astimezone(zone).date()
        while index + 1 < len(segments) and segments[index + 1].fitted_on <= day:
            cycles += _run(segments[index], value, segments[index].last_value)
            index += 1
            value = segments[index].first_value
        cycles += _run(segments[index], value, reading.counter_value)
        value = reading.counter_value
        points.append(Point(reading.read_at, cycles))
    return points


def _segments(door: DoorUnit) -> list[_Segment]:
    """The door's counters in order; one without a row showed the opening cycles at the start."""
    counters = list(door.counters.order_by("fitted_on", "pk"))
    rows = [_segment(door, counter) for counter in counters]
    begun = door.record_from or date.min
    if counters and counters[0].fitted_on <= begun:
        return rows
    model = door.door_model
    modulus = 10**model.counter_digits
    shown = door.opening_cycles * model.counts_per_cycle % modulus
    return [_Segment(date.min, shown, None, modulus, model.counts_per_cycle), *rows]


def _segment(door: DoorUnit, counter: Counter) -> _Segment:
    model = door.door_model
    return _Segment(
        fitted_on=counter.fitted_on,
        first_value=counter.first_value,
        last_value=counter.last_value,
        modulus=10 ** (counter.digits or model.counter_digits),
        counts_per_cycle=counter.counts_per_cycle or model.counts_per_cycle,
    )


def _run(segment: _Segment, start: int, end: int | None) -> float:
    """Cycles between two values of one counter; a value below the one before has rolled over."""
    if end is None:
        return 0.0
    return (end - start) % segment.modulus / segment.counts_per_cycle


def _cycles_since(points: list[Point], moment: datetime) -> float:
    last = points[-1]
    window = [point for point in points if point.at >= last.at - RATE_WINDOW]
    first = window[0] if len(window) > 1 else points[max(len(points) - 2, 0)]
    if first.at == last.at:
        return 0.0
    per_second = (last.cycles - first.cycles) / (last.at - first.at).total_seconds()
    return per_second * (moment - last.at).total_seconds()
