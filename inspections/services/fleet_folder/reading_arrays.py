"""Counter readings as arrays, and the codes that stand in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from inspections.models import ReadingStatus, Source
from inspections.services.fleet_folder.moments import Ints
from inspections.services.fleet_folder.whereabouts import Clocks

SOURCES = tuple(Source.values)
NO_VALUE = -1


class Word(IntEnum):
    """What a file says about a reading."""

    NONE = 0
    ACCEPTED = 1
    HELD = 2
    CORRECTED = 3


WORDS = {
    None: Word.NONE,
    ReadingStatus.ACCEPTED.value: Word.ACCEPTED,
    ReadingStatus.HELD.value: Word.HELD,
    "corrected": Word.CORRECTED,
}
WORD_TEXTS = ("", ReadingStatus.ACCEPTED.value, ReadingStatus.HELD.value)


@dataclass(frozen=True)
class DoorIndex:
    """Doors by number: of the database first, then those that the folder adds."""

    number: dict[str, int]
    pk: Ints
    limit: Ints
    clocks: Clocks


@dataclass
class Readings:
    """Readings as arrays of one length; moments in microseconds UTC."""

    door: NDArray[np.int32]
    read_at: Ints
    value: Ints
    read_by: NDArray[np.int32]
    source: NDArray[np.int8]
    # A person's word, and what the file says of the reading.
    ruling: NDArray[np.int8]
    status: NDArray[np.int8]
    corrected_value: Ints
    corrected_at: Ints
    entered_at: Ints
    row: Ints
    readers: list[str] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.door)


ARRAYS = tuple(each.name for each in fields(Readings) if each.name != "readers")
EMPTY = {
    "door": np.int32,
    "read_by": np.int32,
    "source": np.int8,
    "ruling": np.int8,
    "status": np.int8,
}


def joined(blocks: Sequence[Readings], readers: list[str]) -> Readings:
    """The blocks one after the other."""
    arrays = {
        name: np.concatenate(
            [np.empty(0, EMPTY.get(name, np.int64)), *(getattr(each, name) for each in blocks)]
        )
        for name in ARRAYS
    }
    return Readings(**arrays, readers=readers)
