"""Counter readings as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import DAY_SECONDS, CodeOf, Flags, Floats, Ints, column, offsets_of
from analytics.datasets.doors import DoorRows
from analytics.datasets.events import fetch_known
from analytics.kernel.exposure import Readings, Ruling
from inspections.models import CounterReading, ReadingStatus


@dataclass(frozen=True)
class ReadingRows:
    """Readings door after door in order of time, with what the database holds of each."""

    ids: Ints
    epoch: Ints
    held_at_present: Flags
    kernel: Readings


def fetch_readings(doors: DoorRows) -> ReadingRows:
    """Readings of the doors; runs one query."""
    rows = fetch_known(
        CounterReading.objects.all(),
        "read_at",
        doors,
        {
            "id": ("pk", np.int64),
            "value": ("counter_value", np.float64),
            "ruling": (_as_number("ruling"), np.int8),
            "status": (_as_number("status"), np.int8),
        },
    )
    rows = rows[np.lexsort((rows["epoch"], rows["door"]))]
    door, epoch = column(rows, "door"), column(rows, "epoch")
    return ReadingRows(
        ids=column(rows, "id"),
        epoch=epoch,
        held_at_present=rows["status"] == Ruling.HELD,
        kernel=Readings(
            offsets=offsets_of(door, len(doors)),
            day=_ascending(door, doors.wall_days(door, epoch)),
            value=column(rows, "value"),
            ruling=column(rows, "ruling"),
        ),
    )


def _as_number(field: str) -> CodeOf:
    """The kernel's number of a word: nothing said, accepted, held."""
    return CodeOf(
        When(**{field: ReadingStatus.ACCEPTED}, then=Value(int(Ruling.ACCEPTED))),
        When(**{field: ReadingStatus.HELD}, then=Value(int(Ruling.HELD))),
        default=Value(int(Ruling.MACHINE)),
    )


def _ascending(door: Ints, day: Floats) -> Floats:
    """Keep the order of readings through the hour that a wall clock shows twice in autumn."""
    same_door = door[1:] == door[:-1]
    while True:
        back = np.flatnonzero(same_door & (day[1:] <= day[:-1])) + 1
        if len(back) == 0:
            return day
        day[back] = day[back - 1] + 1.0 / DAY_SECONDS
