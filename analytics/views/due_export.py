"""The due list as it is filtered, as a CSV file or a workbook."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import date
from tempfile import TemporaryFile
from typing import IO

import xlsxwriter
from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.translation import gettext as _

from analytics.forms.due_filter import DueFilterForm
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis, basis_for
from analytics.reports.due_page import due_tasks
from analytics.reports.scope import depot_ids_of
from analytics.tables.due_sheet import Cell, formula_safe, headings, sheet_rows
from fleetdoors.access import SignedInRequest, open_to

# What a sheet of the usual spreadsheet programs holds, heading included.
SHEET_ROWS = 1_048_576
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class _Line:
    """What csv writes into: it hands each line on instead of keeping it."""

    def write(self, line: str) -> str:
        return line


@open_to()
def due_csv(request: SignedInRequest) -> HttpResponseBase:
    """The rows chosen, sent as they are fetched."""
    tasks, basis = _chosen(request)
    rows = _with_headings(tasks, basis)
    answer = StreamingHttpResponse(_csv_lines(rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="due-{basis.today}.csv"'
    return answer


@open_to()
def due_workbook(request: SignedInRequest) -> HttpResponseBase:
    """The rows chosen as a workbook, written to disk row by row and sent from there."""
    tasks, basis = _chosen(request)
    count = tasks.count()
    if count >= SHEET_ROWS:
        rule = _("A sheet holds %(most)s rows; these would be %(count)s. Choose fewer, or CSV.")
        return HttpResponse(rule % {"most": SHEET_ROWS, "count": count}, status=400)
    file = TemporaryFile()  # noqa: SIM115  the response closes it once it is sent
    _write_workbook(file, _with_headings(tasks, basis))
    file.seek(0)
    name = f"due-{basis.today}.xlsx"
    return FileResponse(file, as_attachment=True, filename=name, content_type=WORKBOOK)


def _chosen(request: SignedInRequest) -> tuple[DueTaskQuerySet, Basis]:
    depot_ids = depot_ids_of(request.user)
    choice = DueFilterForm(request.GET, user=request.user).choice()
    basis = basis_for(depot_ids, choice.depot_id, now=timezone.now())
    return due_tasks(choice, depot_ids, basis), basis


def _with_headings(tasks: DueTaskQuerySet, basis: Basis) -> Iterator[list[Cell]]:
    yield [*headings()]
    yield from sheet_rows(tasks, basis)


def _csv_lines(rows: Iterator[list[Cell]]) -> Iterator[str]:
    writer = csv.writer(_Line())
    yield "\ufeff"  # tells spreadsheet programs that the text is UTF-8
    for row in rows:
        yield writer.writerow([formula_safe(cell) for cell in row])


def _write_workbook(file: IO[bytes], rows: Iterator[list[Cell]]) -> None:
    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(file, options)
    sheet = book.add_worksheet(_("Due"))
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    bold = book.add_format({"bold": True})
    sheet.freeze_panes(1, 0)
    sheet.set_column(0, 20, 14)
    for at, row in enumerate(rows):
        for column, cell in enumerate(row):
            if isinstance(cell, date):
                sheet.write_datetime(at, column, cell, day)
            elif isinstance(cell, str):
                # As text whatever it begins with: nothing from the record becomes a formula.
                sheet.write_string(at, column, cell, bold if at == 0 else None)
            elif cell is not None:
                sheet.write_number(at, column, cell)
    book.close()
