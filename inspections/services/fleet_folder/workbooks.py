"""Reads a workbook whose sheets are the tables of a fleet folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time
from pathlib import Path
from zipfile import BadZipFile

from django.utils.translation import gettext as _
from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from inspections.services.fleet_folder.archives import open_archive, refuse_document_types
from inspections.services.fleet_folder.errors import SourceRefusedError
from inspections.services.fleet_folder.limits import Limits

MACROS = "vbaProject.bin"


class Workbook:
    """A workbook; a formula counts as the value that was last worked out for it."""

    def __init__(self, path: Path, limits: Limits) -> None:
        with open_archive(path, limits) as archive:
            if any(name.endswith(MACROS) for name in archive.namelist()):
                raise SourceRefusedError(path.name, _("holds macros; save it without them"))
            refuse_document_types(path.name, archive)
        self.limits = limits
        try:
            self.book = load_workbook(path, read_only=True, data_only=True, keep_links=False)
        except (InvalidFileException, BadZipFile, KeyError, ValueError, SyntaxError) as error:
            raise SourceRefusedError(path.name, _("is not a readable workbook")) from error

    def names(self) -> list[str]:
        """Sheets by the name that a file of the same table has."""
        return [f"{title}.csv" for title in self.book.sheetnames]

    @contextmanager
    def rows(self, name: str) -> Iterator[Iterator[Sequence[str]]]:
        """The rows of a sheet, as wide as its header."""
        sheet = self.book[name.removesuffix(".csv")]
        # What a sheet says about its own size is not to be trusted.
        sheet.reset_dimensions()
        yield _trimmed(
            sheet.iter_rows(values_only=True, max_col=self.limits.columns), self.limits.columns
        )

    def close(self) -> None:
        self.book.close()


def _trimmed(rows: Iterator[Sequence[object]], most: int) -> Iterator[list[str]]:
    width = 0
    for row in rows:
        cells = [cell_text(value) for value in row[:most]]
        while len(cells) > width and not cells[-1]:
            cells.pop()
        width = width or len(cells)
        yield cells + [""] * (width - len(cells)) if any(cells) else []


def cell_text(value: object) -> str:
    """A cell's value as the CSV form writes it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, datetime):
        is_day = value.time() == time(0)
        return value.date().isoformat() if is_day else value.isoformat(timespec="auto")
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value)
