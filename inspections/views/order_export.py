"""An order as a workbook or a text table, for the supplier's inbox."""

from __future__ import annotations

import csv
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO

import xlsxwriter
from django.http import HttpResponse
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.models import PurchaseOrder
from inspections.services.fleet_folder.cells import guarded
from inspections.views.orders import order_in_sight

Cell = str | int | date | Decimal | None
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@open_to(Role.BUYER, Role.PLANNER)
def order_csv(request: SignedInRequest, number: str) -> HttpResponse:
    """The lines of an order, one a row."""
    order = order_in_sight(request, number)
    text = StringIO()
    text.write("\ufeff")  # tells spreadsheet programs that the text is UTF-8
    writer = csv.writer(text)
    for row in order_rows(order):
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    return _file(text.getvalue().encode(), "text/csv; charset=utf-8", f"{order.number}.csv")


@open_to(Role.BUYER, Role.PLANNER)
def order_workbook(request: SignedInRequest, number: str) -> HttpResponse:
    """The order as a workbook of one sheet."""
    order = order_in_sight(request, number)
    file = BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(file, options)
    sheet = book.add_worksheet(_("Order"))
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    bold = book.add_format({"bold": True})
    sheet.freeze_panes(1, 0)
    sheet.set_column(0, 12, 16)
    for at, row in enumerate(order_rows(order)):
        for column, cell in enumerate(row):
            if isinstance(cell, date):
                sheet.write_datetime(at, column, cell, day)
            elif isinstance(cell, str):
                sheet.write_string(at, column, cell, bold if at == 0 else None)
            elif cell is not None:
                sheet.write_number(at, column, cell)
    book.close()
    return _file(file.getvalue(), WORKBOOK, f"{order.number}.xlsx")


def order_rows(order: PurchaseOrder) -> list[list[Cell]]:
    """Headings, then a row for each line; queries once."""
    headings: list[Cell] = [
        _("Order"), _("Supplier"), _("Our customer number"), _("Deliver to"), _("Part"),
        _("Their number"), _("Name"), _("Pieces"), _("Price of a piece"), _("Currency"),
        _("Amount"), _("Expected on"),
    ]  # fmt: skip
    rows = [headings]
    for line in order.lines.select_related("part").order_by("pk"):
        pieces = line.quantity - line.called_off
        price = line.unit_price
        rows.append(
            [
                order.number, str(order.supplier), order.supplier.customer_number,
                str(order.depot), line.part.part_number, line.supplier_part_number,
                line.part.name, pieces, price, order.currency,
                None if price is None else price * pieces, line.expected_on,
            ]
        )  # fmt: skip
    return rows


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="order-{name}"'
    return response
