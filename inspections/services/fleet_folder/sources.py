"""Opens a fleet folder, archive or workbook, and hands out its tables block by block."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Protocol

from django.utils.translation import gettext as _

from inspections.services.fleet_folder.archives import open_archive, table_members
from inspections.services.fleet_folder.csv_rows import CsvRows
from inspections.services.fleet_folder.errors import Problems, SourceRefusedError
from inspections.services.fleet_folder.limits import Limits
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.workbooks import Workbook

BLOCK_ROWS = 50_000


@dataclass(frozen=True)
class Block:
    """Rows of one table, column by column, as text; each row keeps its number."""

    numbers: Sequence[int]
    columns: tuple[tuple[str, ...], ...]


class Book(Protocol):
    """What holds tables by file name: a folder, an archive, a workbook."""

    def names(self) -> list[str]:
        """The files or sheets at the top."""

    def rows(self, name: str) -> AbstractContextManager[Iterator[Sequence[str]]]:
        """The rows of one of them, the header first."""

    def close(self) -> None:
        """Let go of what was opened."""


class Folder:
    """A plain folder; what lies in folders below it is not looked at."""

    def __init__(self, path: Path, limits: Limits) -> None:
        self.path = path
        self.limits = limits

    def names(self) -> list[str]:
        return sorted(entry.name for entry in self.path.iterdir() if entry.is_file())

    def rows(self, name: str) -> CsvRows:
        return CsvRows(name, (self.path / name).open("rb"), self.limits)

    def close(self) -> None:
        """Nothing stays open."""


class Archive:
    """A zip archive of a fleet folder."""

    def __init__(self, path: Path, limits: Limits) -> None:
        self.zip = open_archive(path, limits)
        self.members = table_members(self.zip)
        self.limits = limits

    def names(self) -> list[str]:
        return sorted(self.members)

    def rows(self, name: str) -> CsvRows:
        return CsvRows(name, self.zip.open(self.members[name]), self.limits)

    def close(self) -> None:
        self.zip.close()


class Source(AbstractContextManager["Source"]):
    """An opened fleet folder: which tables it holds, and their blocks."""

    def __init__(self, path: Path, limits: Limits, problems: Problems) -> None:
        self.limits = limits
        self.problems = problems
        self.rows_left = limits.rows
        self.book = _opened(path, limits)
        self.files = self._known_files(path)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.book.close()

    def _known_files(self, path: Path) -> dict[str, str]:
        """File by table; a stray table name is a problem, other files are none of ours."""
        files: dict[str, str] = {}
        for name in self.book.names():
            stem, _dot, ending = name.rpartition(".")
            if ending.lower() != "csv":
                continue
            if stem.lower() not in TABLES:
                self.problems.add(
                    name, _("unknown table; known are: %(names)s") % {"names": ", ".join(TABLES)}
                )
            elif stem.lower() in files:
                self.problems.add(name, _("the table is there twice"))
            else:
                files[stem.lower()] = name
        if not files and not self.problems:
            self.problems.add(
                path.name, _("holds no table; known are: %(names)s") % {"names": ", ".join(TABLES)}
            )
        return files

    def header(self, table: str) -> list[str] | None:
        """The column names of a table, once they are in order."""
        file = self.files[table]
        with self._guarded(file), self.book.rows(file) as rows:
            names = [name.strip() for name in next(iter(rows), [])]
            return names if self._header_holds(table, file, names) else None
        return None

    def blocks(self, table: str, size: int = BLOCK_ROWS) -> Iterator[Block]:
        """The rows below the header, block by block; blank rows are left out."""
        file = self.files[table]
        first = 1
        with self._guarded(file), self.book.rows(file) as rows:
            width = len(next(iter(rows), []))
            reader = iter(rows)
            while True:
                taken, stopped = _take(reader, size)
                self._spend(file, len(taken))
                yield from self._block(file, taken, first + 1, width)
                first += len(taken)
                if stopped is not None:
                    self.problems.add(file, str(stopped), row=first + 1)
                if stopped is not None or len(taken) < size:
                    return

    def _block(
        self, file: str, taken: list[Sequence[str]], first: int, width: int
    ) -> Iterator[Block]:
        numbers: Sequence[int] = range(first, first + len(taken))
        if set(map(len, taken)) - {width}:
            kept = [
                number
                for number, row in zip(numbers, taken, strict=True)
                if self._width_holds(file, number, row, width)
            ]
            taken, numbers = [taken[number - first] for number in kept], kept
        if taken:
            yield Block(numbers, tuple(zip(*taken, strict=True)))

    def _width_holds(self, file: str, number: int, row: Sequence[str], width: int) -> bool:
        if len(row) == width:
            return True
        if any(cell.strip() for cell in row):
            self.problems.add(
                file,
                _("the row has %(cells)d cells, the header has %(width)d")
                % {"cells": len(row), "width": width},
                row=number,
                value=",".join(row),
            )
        return False

    def _header_holds(self, table: str, file: str, names: list[str]) -> bool:
        known = TABLES[table].by_name
        before = len(self.problems)
        if not any(names):
            self.problems.add(file, _("the file is empty; a header row is required"))
            return False
        for name in names:
            if name not in known:
                self.problems.add(
                    file,
                    _("unknown column; known are: %(names)s") % {"names": ", ".join(known)},
                    row=1,
                    column=name,
                )
        for name in sorted({name for name in names if names.count(name) > 1 and name in known}):
            self.problems.add(file, _("the column is there twice"), row=1, column=name)
        for column in known.values():
            if column.required and column.name not in names:
                self.problems.add(file, _("the column is required"), row=1, column=column.name)
        return len(self.problems) == before

    def _spend(self, file: str, rows: int) -> None:
        self.rows_left -= rows
        if self.rows_left < 0:
            raise SourceRefusedError(
                file, _("more than %(most)d rows in all") % {"most": self.limits.rows}
            )

    def _guarded(self, file: str) -> Guard:
        return Guard(file, self.problems)


@dataclass(frozen=True)
class Guard(AbstractContextManager[None]):
    """Turns what a broken file raises while it is read into a problem of that file."""

    file: str
    problems: Problems

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        if isinstance(error, csv.Error):
            self.problems.add(self.file, _("is no proper CSV: %(error)s") % {"error": error})
            return True
        if isinstance(error, zipfile.BadZipFile | EOFError | NotImplementedError | OSError):
            self.problems.add(self.file, _("cannot be read: %(error)s") % {"error": error})
            return True
        return False


def _take(rows: Iterator[Sequence[str]], size: int) -> tuple[list[Sequence[str]], csv.Error | None]:
    """The next rows; what was read before a broken row is kept."""
    taken: list[Sequence[str]] = []
    try:
        taken.extend(islice(rows, size))
    except csv.Error as error:
        return taken, error
    return taken, None


def _opened(path: Path, limits: Limits) -> Book:
    if path.is_dir():
        return Folder(path, limits)
    if not path.exists():
        raise SourceRefusedError(path.name, _("there is no such file or folder"))
    ending = path.suffix.lower()
    if ending == ".zip":
        return Archive(path, limits)
    if ending == ".xlsx":
        return Workbook(path, limits)
    raise SourceRefusedError(path.name, _("must be a folder, a .zip archive or an .xlsx workbook"))
