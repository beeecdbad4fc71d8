"""The readings behind a door's figures, with the lifetime cycles each stands for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from analytics.reports.followed_door import FollowedDoor
from fleetdoors.models import DoorUnit
from inspections.models import CounterReading

_SECONDS_A_DAY = 86_400.0
SHOWN = 12


@dataclass(frozen=True)
class ReadingUsed:
    """A reading that counts: lifetime cycles, and cycles a day since the one before."""

    read_at: datetime
    counter_value: int
    cycles: float
    per_day: float | None


def readings_used(followed: FollowedDoor, door: DoorUnit) -> list[ReadingUsed]:
    """The latest accepted readings, newest first; queries once."""
    cycles = followed.cycles_by_reading()
    rows = CounterReading.objects.in_force().filter(door=door).newest_first()
    counted = [row for row in rows[: 4 * SHOWN] if row.pk in cycles][: SHOWN + 1]
    found = [
        _used(later, cycles, _per_day(earlier, later, cycles))
        for later, earlier in pairwise(counted)
    ]
    if counted and len(counted) <= SHOWN:
        found.append(_used(counted[-1], cycles, None))
    return found


def _used(row: CounterReading, cycles: dict[int, float], per_day: float | None) -> ReadingUsed:
    return ReadingUsed(row.read_at, row.counter_value, cycles[row.pk], per_day)


def _per_day(
    earlier: CounterReading, later: CounterReading, cycles: dict[int, float]
) -> float | None:
    days = (later.read_at - earlier.read_at).total_seconds() / _SECONDS_A_DAY
    return (cycles[later.pk] - cycles[earlier.pk]) / days if days > 0 else None
