"""Reads counter readings into arrays, a hundred thousand rows at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import repeat

import numpy as np
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from fleetdoors.models import DoorUnit
from fleetdoors.services.progress import Progress
from inspections.models import Source
from inspections.services.fleet_folder.cells import Reader
from inspections.services.fleet_folder.columns import Column
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.moments import UNKNOWN, Ints, parse_moments
from inspections.services.fleet_folder.reading_arrays import (
    NO_VALUE,
    SOURCES,
    WORDS,
    DoorIndex,
    Readings,
    Word,
    joined,
)
from inspections.services.fleet_folder.record_tables import READINGS
from inspections.services.fleet_folder.sheets import (
    TOLERANCE,
    CellsAt,
    note_broken,
    note_moments,
    read_cells,
)
from inspections.services.fleet_folder.sources import Block
from inspections.services.fleet_folder.sources import Source as Files


@dataclass
class ReadingsReader:
    """Reads the blocks of the readings table."""

    file: str
    header: list[str]
    doors: DoorIndex
    problems: Problems
    now: datetime
    readers: dict[str, int] = field(default_factory=lambda: {"": 0})

    def read(self, block: Block) -> Readings:
        """The block's rows; whatever broke a rule is noted and stands as unknown."""
        cells = dict(zip(self.header, block.columns, strict=True))
        numbers = np.array(block.numbers, np.int64)
        door = self._doors(cells["door"], numbers)
        read_at = self._moments("read_at", cells, door, numbers)
        value = self._wholes("counter_value", cells, numbers)
        self._check_digits(door, value, cells["counter_value"], numbers)
        entered_at = self._moments("entered_at", cells, door, numbers)
        entered_at = np.where(entered_at == UNKNOWN, read_at, entered_at)
        corrected_at = self._moments("corrected_at", cells, door, numbers)
        status = self._codes("status", cells, numbers, WORDS)
        corrected_value = self._wholes("corrected_value", cells, numbers)
        self._check_corrections(status, corrected_value, numbers)
        self._check_digits(door, corrected_value, cells.get("corrected_value", ()), numbers)
        return Readings(
            door=door,
            read_at=read_at,
            value=value,
            read_by=self._read_by(cells, numbers),
            source=self._codes("source", cells, numbers, SOURCE_NUMBERS),
            ruling=self._ruling(cells, numbers, status),
            status=status,
            corrected_value=corrected_value,
            corrected_at=np.where(corrected_at == UNKNOWN, entered_at, corrected_at),
            entered_at=entered_at,
            row=numbers,
        )

    def _doors(self, cells: Sequence[str], numbers: Ints) -> NDArray[np.int32]:
        door = np.fromiter(map(self.doors.number.get, cells, repeat(-1)), np.int32, len(cells))
        column = READINGS.by_name["door"]
        for row in np.flatnonzero(door < 0).tolist():
            reader = Reader(column, self.doors.number, self.now.date())
            read = read_cells([cells[row]], reader)
            code = read.values.get(cells[row])
            door[row] = self.doors.number[code] if code else -1
            rule = read.broken.get(cells[row]) or (None if code else _("must not be empty"))
            if rule:
                self._note(rule, column, numbers[row], cells[row])
        return door

    def _moments(
        self,
        name: str,
        cells: Mapping[str, Sequence[str]],
        door: NDArray[np.int32],
        numbers: Ints,
    ) -> Ints:
        if name not in cells:
            return np.full(len(numbers), UNKNOWN)
        read = parse_moments(cells[name])
        column = READINGS.by_name[name]
        latest = self.now + TOLERANCE
        where = CellsAt(self.file, column, numbers, cells[name])
        note_moments(self.problems, where, read, latest)
        owner = door.astype(np.int64)
        return self.doors.clocks.utc(owner, read.microseconds, read.has_offset)

    def _wholes(self, name: str, cells: Mapping[str, Sequence[str]], numbers: Ints) -> Ints:
        column = READINGS.by_name[name]
        if name not in cells:
            return np.full(len(numbers), NO_VALUE, np.int64)
        texts = cells[name]
        joined = "".join(texts)
        if joined.isascii() and joined.isdigit() and "" not in texts:
            values = np.fromiter(map(int, texts), np.int64, len(texts))
            if values.max() <= column.most:
                return values
        reader = Reader(column, None, self.now.date())
        read = read_cells(texts, reader)
        note_broken(self.problems, CellsAt(self.file, column, numbers, texts), read.broken)
        found = [read.values.get(text) for text in texts]
        if column.required:
            for row in (row for row, text in enumerate(texts) if not text.strip()):
                self._note(_("must not be empty"), column, numbers[row], texts[row])
        return np.array([NO_VALUE if each is None else each for each in found], np.int64)

    def _codes(
        self,
        name: str,
        cells: Mapping[str, Sequence[str]],
        numbers: Ints,
        codes: Mapping[str | None, int],
    ) -> NDArray[np.int8]:
        if name not in cells:
            return np.full(len(numbers), codes[None], np.int8)
        column = READINGS.by_name[name]
        read = read_cells(cells[name], Reader(column, None, self.now.date()))
        if read.broken:
            where = CellsAt(self.file, column, numbers, cells[name])
            note_broken(self.problems, where, read.broken)
        number = {cell: codes[value] for cell, value in read.values.items()}
        return np.fromiter(map(number.get, cells[name], repeat(0)), np.int8, len(numbers))

    def _read_by(self, cells: Mapping[str, Sequence[str]], numbers: Ints) -> NDArray[np.int32]:
        if "read_by" not in cells:
            return np.zeros(len(numbers), np.int32)
        column = READINGS.by_name["read_by"]
        read = read_cells(cells["read_by"], Reader(column, None, self.now.date()))
        if read.broken:
            where = CellsAt(self.file, column, numbers, cells["read_by"])
            note_broken(self.problems, where, read.broken)
        number = {
            cell: self.readers.setdefault(name or "", len(self.readers))
            for cell, name in read.values.items()
        }
        return np.fromiter(map(number.get, cells["read_by"], repeat(0)), np.int32, len(numbers))

    def _ruling(
        self, cells: Mapping[str, Sequence[str]], numbers: Ints, status: NDArray[np.int8]
    ) -> NDArray[np.int8]:
        """A person's word: the column of that name, or without it what the status says.

        A file that says `accepted` or `held` and knows no rulings is taken at its word: the
        plausibility check does not overrule it. A correction without that column is a person's.
        """
        if "ruling" in cells:
            return self._codes("ruling", cells, numbers, WORDS)
        return np.where(status == Word.CORRECTED, Word.ACCEPTED, status).astype(np.int8)

    def _check_digits(
        self, door: NDArray[np.int32], value: Ints, cells: Sequence[str], numbers: Ints
    ) -> None:
        known = door >= 0
        limit = np.where(known, self.doors.limit[np.maximum(door, 0)], np.iinfo(np.int64).max)
        column = READINGS.by_name["counter_value"]
        for row in np.flatnonzero(value >= limit).tolist():
            self._note(
                _("has more digits than the door's counter"), column, numbers[row], cells[row]
            )

    def _check_corrections(
        self, status: NDArray[np.int8], corrected_value: Ints, numbers: Ints
    ) -> None:
        is_corrected = status == Word.CORRECTED
        rules = (
            (is_corrected & (corrected_value == NO_VALUE), _("a corrected reading needs it")),
            (~is_corrected & (corrected_value != NO_VALUE), _("needs the status corrected")),
        )
        for mask, rule in rules:
            for row in np.flatnonzero(mask).tolist():
                self._note(rule, READINGS.by_name["corrected_value"], numbers[row], "")

    def _note(self, rule: str, column: Column, number: int, value: str) -> None:
        self.problems.add(self.file, rule, row=int(number), column=column.name, value=value)


SOURCE_NUMBERS: Mapping[str | None, int] = {
    None: SOURCES.index(Source.IMPORT.value),
    **{name: number for number, name in enumerate(SOURCES)},
}


def read_readings(
    source: Files, doors: DoorIndex, problems: Problems, now: datetime, progress: Progress
) -> Readings:
    """Every reading of the source."""
    file = source.files.get(READINGS.name, "readings.csv")
    header = source.header(READINGS.name) if READINGS.name in source.files else None
    if header is None:
        return joined([], [""])
    reader = ReadingsReader(file, header, doors, problems, now)
    blocks = []
    for block in source.blocks(READINGS.name):
        blocks.append(reader.read(block))
        progress.advance(len(block.numbers))
    return joined(blocks, list(reader.readers))


def door_numbers(serials: Sequence[str]) -> dict[str, int]:
    """Doors of the database in the order of their keys, then those that the folder adds."""
    number = {
        serial: index
        for index, serial in enumerate(
            DoorUnit.objects.order_by("pk").values_list("serial", flat=True)
        )
    }
    for serial in serials:
        number.setdefault(serial, len(number))
    return number
