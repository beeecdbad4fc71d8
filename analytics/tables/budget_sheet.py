"""The budget as a workbook: quarters, parts and depots, a sheet for each currency."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import IO

import xlsxwriter
from django.utils.translation import gettext as _

from analytics.reports.budget import Budget, CurrencyBudget, Share
from analytics.tables.due_sheet import Cell

_EMPTY: list[Cell] = []


def write_budget(file: IO[bytes], budget: Budget) -> None:
    """Write every currency's sheet; text stays text whatever it begins with."""
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(file, options)
    for each in budget.currencies:
        sheet = book.add_worksheet(each.currency.strip("?")[:3] or _("No currency"))
        sheet.set_column(0, 4, 24)
        for at, row in enumerate(budget_rows(each)):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(at, column, cell)
                elif cell is not None:
                    sheet.write_number(at, column, float(str(cell)))
    if not budget.currencies:
        book.add_worksheet(_("Nothing expected"))
    book.close()


def budget_rows(budget: CurrencyBudget) -> Iterator[list[Cell]]:
    """The sheet's rows: the quarters, then the year by part and by depot."""
    low, high = _("Low (1 in 10)"), _("High (1 in 10)")
    yield [_("Quarter"), _("Expected, money"), low, high]
    for quarter in budget.quarters:
        spend = quarter.spend
        yield [quarter.words(), *_rounded((spend.mean, spend.lower, spend.upper))]
    yield [_("Year"), *_rounded((budget.year.mean, budget.year.lower, budget.year.upper))]
    yield _EMPTY
    yield [_("Part, whole year"), _("Expected, money"), low, high, _("Expected, pieces")]
    yield from _shares(budget.parts)
    yield _EMPTY
    yield [_("Depot, whole year"), _("Expected, money"), low, high, _("Expected, pieces")]
    yield from _shares(budget.depots)


def _shares(shares: Iterable[Share]) -> Iterator[list[Cell]]:
    for share in shares:
        spend = share.spend
        yield [
            share.label,
            *_rounded((spend.mean, spend.lower, spend.upper, share.pieces)),
        ]


def _rounded(values: Iterable[float]) -> list[Cell]:
    return [round(value, 2) for value in values]
