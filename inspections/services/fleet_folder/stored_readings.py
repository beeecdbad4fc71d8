"""The readings of the database as arrays, with the moment made a number in SQL."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import QuerySet
from django.db.models.functions import Length
from numpy.typing import NDArray

from inspections.models import CounterReading
from inspections.services.fleet_folder.microseconds_sql import Microseconds
from inspections.services.fleet_folder.moments import Ints
from inspections.services.fleet_folder.reading_arrays import (
    DoorIndex,
    Word,
)

FEW_DOORS = 500
# The words of the database by their length, so that no text leaves it.
WORD_OF_LENGTH = np.zeros(9, np.int8)
WORD_OF_LENGTH[len("accepted")] = Word.ACCEPTED
WORD_OF_LENGTH[len("held")] = Word.HELD


@dataclass(frozen=True)
class StoredReadings:
    """Readings in force, sorted by door and moment, and the values that were corrected since."""

    door: Ints
    read_at: Ints
    value: Ints
    pk: Ints
    ruling: NDArray[np.int8]
    status: NDArray[np.int8]
    superseded: set[tuple[int, int, int]]

    def find(self, door: NDArray[np.int32], read_at: Ints) -> Ints:
        """Position of each reading of the file, itself sorted so, or -1."""
        both = np.concatenate([self.door, door.astype(np.int64)])
        moments = np.concatenate([self.read_at, read_at])
        order = np.lexsort((moments, both))
        before, after = order[:-1], order[1:]
        is_same = (both[before] == both[after]) & (moments[before] == moments[after])
        # Sorting is stable: of two equal ones the stored one comes first.
        at = np.full(len(door), -1, np.int64)
        at[after[is_same] - len(self.door)] = before[is_same]
        return at


def stored_readings(wanted: NDArray[np.int32], doors: DoorIndex) -> StoredReadings:
    """The readings of the doors; of all doors where that is the smaller question."""
    pks = doors.pk[wanted]
    pks = pks[pks >= 0]
    rows = CounterReading.objects.order_by()
    if len(pks) <= FEW_DOORS:
        rows = rows.filter(door_id__in=pks.tolist())
    table = _table(rows.in_force())
    number = _number_of_pk(doors)
    door = number[table["door"]]
    order = np.lexsort((table["read_at"], door))
    table, door = table[order], door[order]
    return StoredReadings(
        door=door,
        read_at=table["read_at"],
        value=table["value"],
        pk=table["pk"],
        ruling=WORD_OF_LENGTH[table["ruling"]],
        status=WORD_OF_LENGTH[table["status"]],
        superseded=_superseded(rows, number),
    )


def _superseded(rows: QuerySet[CounterReading], number: Ints) -> set[tuple[int, int, int]]:
    old = _table(rows.filter(superseded_at__isnull=False))
    doors = number[old["door"]].tolist()
    return set(zip(doors, old["read_at"].tolist(), old["value"].tolist(), strict=True))


def _table(rows: QuerySet[CounterReading]) -> NDArray[np.void]:
    chosen = rows.annotate(micros=Microseconds("read_at")).values_list(
        "door_id", "micros", "counter_value", "pk", Length("ruling"), Length("status")
    )
    columns = np.dtype(
        [
            ("door", "i8"),
            ("read_at", "i8"),
            ("value", "i8"),
            ("pk", "i8"),
            ("ruling", "i1"),
            ("status", "i1"),
        ]
    )
    return np.fromiter(chosen.iterator(chunk_size=20_000), columns)


def _number_of_pk(doors: DoorIndex) -> Ints:
    """Number of a door by its primary key."""
    known = np.flatnonzero(doors.pk >= 0)
    number = np.full(int(doors.pk.max(initial=0)) + 1, -1, np.int64)
    number[doors.pk[known]] = known
    return number
