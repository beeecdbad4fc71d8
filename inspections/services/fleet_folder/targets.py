"""Where an export goes: a folder, an archive of one, or a workbook."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol, TextIO

import xlsxwriter
from django.utils.translation import gettext as _

from inspections.services.fleet_folder.columns import Kind, Table

WORKBOOK_ROWS = 1_048_576
# Equal fleets make equal archives, whenever they are written.
FIXED_DATE = (1980, 1, 1, 0, 0, 0)
NUMERIC = (Kind.WHOLE, Kind.NUMBER, Kind.MONEY, Kind.PRICE)
Block = Sequence[Sequence[str]]


class TargetRefusedError(Exception):
    """The export cannot be written there."""


class Sheet(Protocol):
    """Takes the rows of one table, the header first."""

    def write(self, rows: Block) -> None:
        """Write more rows."""


class Target(Protocol):
    """Takes tables one after the other."""

    def table(self, table: Table) -> Any:
        """A context in which the rows of the table can be written."""


class CsvSheet:
    """A table as CSV."""

    def __init__(self, stream: TextIO) -> None:
        self._writer = csv.writer(stream, lineterminator="\n")

    def write(self, rows: Block) -> None:
        self._writer.writerows(rows)


class Folder:
    """A folder with a CSV file for each table."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @contextmanager
    def table(self, table: Table) -> Iterator[Sheet]:
        path = self.path / f"{table.name}.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            yield CsvSheet(stream)


class Archive:
    """A zip archive of such a folder."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive

    @contextmanager
    def table(self, table: Table) -> Iterator[Sheet]:
        member = zipfile.ZipInfo(f"{table.name}.csv", FIXED_DATE)
        member.compress_type = zipfile.ZIP_DEFLATED
        member.external_attr = 0o644 << 16
        with (
            self.archive.open(member, "w", force_zip64=True) as stream,
            io.TextIOWrapper(stream, encoding="utf-8", newline="") as text,
        ):
            yield CsvSheet(text)


class WorkbookSheet:
    """A table as a sheet: numbers as numbers, everything else as plain text."""

    def __init__(self, sheet: Any, table: Table) -> None:
        self._sheet = sheet
        self._is_numeric = [column.kind in NUMERIC for column in table.columns]
        self._next = 0

    def write(self, rows: Block) -> None:
        for row in rows:
            for at, (cell, is_numeric) in enumerate(zip(row, self._is_numeric, strict=True)):
                if cell and is_numeric and self._next:
                    self._sheet.write_number(self._next, at, float(cell))
                elif cell:
                    self._sheet.write_string(self._next, at, cell)
            self._next += 1
            if self._next > WORKBOOK_ROWS:
                raise TargetRefusedError(
                    _("A workbook sheet takes %(most)d rows; export to a folder or a .zip.")
                    % {"most": WORKBOOK_ROWS}
                )


class Workbook:
    """A workbook with a sheet for each table."""

    def __init__(self, book: Any) -> None:
        self.book = book

    @contextmanager
    def table(self, table: Table) -> Iterator[Sheet]:
        yield WorkbookSheet(self.book.add_worksheet(table.name), table)


@contextmanager
def opened_target(path: Path) -> Iterator[Target]:
    """Open a new file, or a new or empty folder; what is there already is not overwritten."""
    ending = path.suffix.lower()
    try:
        if ending not in (".zip", ".xlsx"):
            path.mkdir(parents=True, exist_ok=True)
            _refuse_if(any(path.iterdir()), path, _("the folder is not empty"))
            yield Folder(path)
            return
        _refuse_if(path.exists(), path, _("the file is there already"))
        if ending == ".zip":
            with zipfile.ZipFile(path, "w") as archive:
                yield Archive(archive)
        else:
            with xlsxwriter.Workbook(str(path), {"constant_memory": True}) as book:
                yield Workbook(book)
    except OSError as error:
        _refuse_if(True, path, error.strerror or str(error))


def _refuse_if(is_wrong: bool, path: Path, why: str) -> None:
    if is_wrong:
        raise TargetRefusedError(
            _("The export cannot be written to %(path)s: %(why)s.") % {"path": path, "why": why}
        )
