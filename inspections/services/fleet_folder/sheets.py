"""Reads a table into columns of values, and notes every cell that breaks a rule."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from inspections.services.fleet_folder.cells import BadCellError, Reader
from inspections.services.fleet_folder.columns import Column, Kind, Table
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.moments import (
    UNKNOWN,
    Ints,
    Mask,
    MomentColumn,
    microseconds,
    moment_of,
    parse_moments,
)
from inspections.services.fleet_folder.sources import Source

# A file may be a zone ahead of the machine that reads it, never more.
TOLERANCE = timedelta(days=1)


@dataclass
class Sheet:
    """A table's rows by column; a value that is empty or broke a rule is None."""

    table: Table
    file: str
    numbers: list[int] = field(default_factory=list)
    values: dict[str, list[Any]] = field(default_factory=dict)
    # Moments whose zone is not known yet.
    moments: dict[str, MomentColumn] = field(default_factory=dict)
    # Numbers of rows with a cell that broke a rule: what else they say is not judged.
    wrong: set[int] = field(default_factory=set)

    def __len__(self) -> int:
        return len(self.numbers)

    def column(self, name: str) -> Sequence[Any]:
        """The values of a column; one that the file lacks is empty throughout."""
        return self.values.get(name) or [self.table.by_name[name].default] * len(self)

    def rows(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Each row in which no cell is wrong, with its number and every column of the table."""
        names = [column.name for column in self.table.columns]
        columns = [self.column(name) for name in names]
        for number, *row in zip(self.numbers, *columns, strict=True):
            if number not in self.wrong:
                yield number, dict(zip(names, row, strict=True))

    def place_on_clock(self, name: str, micros: Ints) -> None:
        """Keep a column's moments, now in UTC."""
        self.values[name] = [
            None if each == UNKNOWN else moment_of(each) for each in micros.tolist()
        ]


class SheetReader:
    """Reads the tables of one source, each after those that it refers to."""

    def __init__(
        self, source: Source, known: dict[str, set[str]], problems: Problems, now: datetime
    ) -> None:
        self.source = source
        self.known = known
        self.problems = problems
        self.latest = now + TOLERANCE

    def read(self, table: Table) -> Sheet:
        """The table's rows; a table that is absent has none."""
        sheet = Sheet(table, self.source.files.get(table.name, f"{table.name}.csv"))
        header = self.source.header(table.name) if table.name in self.source.files else None
        if header is None:
            return sheet
        cells: dict[str, list[str]] = {name: [] for name in header}
        for block in self.source.blocks(table.name):
            sheet.numbers.extend(block.numbers)
            for name, column in zip(header, block.columns, strict=True):
                cells[name].extend(column)
        # The key first: other columns of the table may refer to its own rows.
        for name in sorted(header, key=lambda each: each not in table.key):
            self._read_column(sheet, table.by_name[name], cells.pop(name))
            if table.is_registry and name == table.key[0]:
                self.known[table.name] |= {code for code in sheet.values[name] if code}
        return sheet

    def _read_column(self, sheet: Sheet, column: Column, cells: list[str]) -> None:
        if column.kind == Kind.MOMENT:
            sheet.moments[column.name] = self._read_moments(sheet, column, cells)
            return
        known: Collection[str] | None = None
        is_own_code = sheet.table.is_registry and column.name == sheet.table.key[0]
        if column.refers_to and not is_own_code:
            known = self.known[column.refers_to]
        read = read_cells(cells, Reader(column, known, self.latest.date()))
        sheet.values[column.name] = [
            column.default if value is None else value for value in map(read.values.get, cells)
        ]
        if read.broken:
            cells_at = CellsAt(sheet.file, column, np.array(sheet.numbers), cells)
            note_broken(self.problems, cells_at, read.broken)
            sheet.wrong |= {
                number
                for number, cell in zip(sheet.numbers, cells, strict=True)
                if cell in read.broken
            }
        if column.required:
            self._note_missing(sheet, column, cells)

    def _read_moments(self, sheet: Sheet, column: Column, cells: list[str]) -> MomentColumn:
        read = parse_moments(cells)
        cells_at = CellsAt(sheet.file, column, np.array(sheet.numbers), cells)
        wrong = note_moments(self.problems, cells_at, read, self.latest)
        sheet.wrong |= {sheet.numbers[at] for at in wrong}
        return read

    def _note_missing(self, sheet: Sheet, column: Column, cells: list[str]) -> None:
        for number, cell in zip(sheet.numbers, cells, strict=True):
            if not cell.strip():
                sheet.wrong.add(number)
                self.problems.add(
                    sheet.file, _("must not be empty"), row=number, column=column.name
                )


@dataclass(frozen=True)
class CellsRead:
    """What each distinct cell of a column holds, and which break a rule."""

    values: Mapping[str, Any]
    broken: Mapping[str, str]


def read_cells(cells: Collection[str], reader: Reader) -> CellsRead:
    """Read each distinct cell once."""
    values: dict[str, Any] = {}
    broken: dict[str, str] = {}
    for cell in set(cells):
        try:
            values[cell] = reader.value(cell)
        except BadCellError as error:
            broken[cell] = str(error)
    return CellsRead(values, broken)


@dataclass(frozen=True)
class CellsAt:
    """Cells of a column, and where they stand."""

    file: str
    column: Column
    numbers: Ints
    cells: Sequence[str]

    def note(self, problems: Problems, at: int, rule: str) -> None:
        """Note that the cell at a position breaks a rule."""
        problems.add(
            self.file,
            rule,
            row=int(self.numbers[at]),
            column=self.column.name,
            value=self.cells[at],
        )


def note_broken(problems: Problems, where: CellsAt, broken: Mapping[str, str]) -> None:
    """Note every row in which a broken cell stands."""
    for at, cell in enumerate(where.cells):
        if cell in broken:
            where.note(problems, at, broken[cell])


def note_moments(
    problems: Problems, where: CellsAt, read: MomentColumn, latest: datetime
) -> list[int]:
    """Note moments that cannot be read, are missing, or have not come yet, and where they are."""
    late = (read.microseconds > microseconds(latest)) & where.column.has_happened
    missing = read.is_empty & where.column.required
    rules: tuple[tuple[Mask, str], ...] = (
        (read.is_wrong, _("must be a moment such as 2026-03-01T07:40")),
        (late, _("must not lie in the future")),
        (missing, _("must not be empty")),
    )
    for mask, rule in rules:
        for at in np.flatnonzero(mask).tolist():
            where.note(problems, at, rule)
    return np.flatnonzero(read.is_wrong | late | missing).tolist()
