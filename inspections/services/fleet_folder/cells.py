"""Turns the text of one cell into the value that its column holds."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from inspections.services.fleet_folder.columns import Column, Kind, checked_by
from inspections.services.fleet_folder.moments import FIRST_YEAR, LAST_YEAR

WHOLE = re.compile(r"-?[0-9]{1,18}")
NUMBER = re.compile(r"-?[0-9]{1,18}(\.[0-9]{1,18})?([eE][-+]?[0-9]{1,2})?")
MONEY = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,2}0*)?")
PRICE = re.compile(r"[0-9]{1,8}(\.[0-9]{1,4}0*)?")
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
# A spreadsheet runs text that begins so as a formula; the export puts a quote before it.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "'")
YES_NO = {"yes": True, "no": False}


class BadCellError(Exception):
    """A cell breaks the rule that the message states."""


@dataclass(frozen=True)
class Reader:
    """Reads cells of one column."""

    column: Column
    # Codes that the column may name; None = any text.
    known: Collection[str] | None
    latest_on: date

    def value(self, cell: str) -> Any:
        """The value, or None for an empty cell."""
        text = cell.strip()
        return PARSERS[self.column.kind](self, text) if text else None

    def text(self, text: str) -> str:
        return self._checked(unguarded(text).replace("\r\n", "\n").replace("\r", "\n"))

    def _checked(self, text: str) -> str:
        if UNPRINTABLE.search(text):
            raise BadCellError(_("must be UTF-8 text without control characters"))
        if len(text) > self.column.max_length:
            raise BadCellError(
                _("must have at most %(most)d characters") % {"most": self.column.max_length}
            )
        if self.column.choices and text not in self.column.choices:
            known = ", ".join(self.column.choices)
            raise BadCellError(_("unknown code; known are: %(known)s") % {"known": known})
        if self.column.validator and (words := checked_by(self.column.validator, text)):
            raise BadCellError(words)
        return self._known(text)

    def several(self, text: str) -> tuple[str, ...]:
        codes = [code.strip() for code in unguarded(text).split("+")]
        return tuple(sorted({self._checked(code) for code in codes if code}))

    def whole(self, text: str) -> int:
        if not WHOLE.fullmatch(text):
            raise BadCellError(_("must be a whole number"))
        return int(self._bounded(int(text)))

    def number(self, text: str) -> float:
        if not NUMBER.fullmatch(text):
            raise BadCellError(_("must be a number with a decimal point"))
        return self._bounded(float(text))

    def money(self, text: str) -> Decimal:
        if not MONEY.fullmatch(text):
            raise BadCellError(_("must be an amount with at most two decimals"))
        self._bounded(float(text))
        return Decimal(text).quantize(Decimal("0.01"))

    def price(self, text: str) -> Decimal:
        if not PRICE.fullmatch(text):
            raise BadCellError(_("must be a price with at most four decimals"))
        self._bounded(float(text))
        return Decimal(text).quantize(Decimal("0.0001"))

    def day(self, text: str) -> date:
        try:
            day = date.fromisoformat(text) if DAY.fullmatch(text) else None
        except ValueError:
            day = None
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise BadCellError(_("must be a date such as 2026-03-01"))
        if self.column.has_happened and day > self.latest_on:
            raise BadCellError(_("must not lie in the future"))
        return day

    def yes_no(self, text: str) -> bool:
        if text not in YES_NO:
            raise BadCellError(_("must be yes or no"))
        return YES_NO[text]

    def facts(self, text: str) -> dict[str, Any]:
        try:
            found = json.loads(self._checked(unguarded(text)))
        except ValueError:
            found = None
        if not isinstance(found, dict):
            raise BadCellError(_('must be named values such as {"rest_volts": 12.4}'))
        return found

    def _bounded(self, number: float) -> float:
        if number < 0 <= self.column.least:
            raise BadCellError(_("must not be negative"))
        if not self.column.least <= number <= self.column.most:
            raise BadCellError(
                _("must lie between %(least)s and %(most)s")
                % {"least": f"{self.column.least:g}", "most": f"{self.column.most:.12g}"}
            )
        return number

    def _known(self, text: str) -> str:
        if self.known is not None and text not in self.known:
            raise BadCellError(
                _("is neither in the folder's %(table)s nor in the database")
                % {"table": self.column.refers_to}
            )
        return text


PARSERS: dict[Kind, Callable[[Reader, str], Any]] = {
    Kind.TEXT: Reader.text,
    Kind.WHOLE: Reader.whole,
    Kind.NUMBER: Reader.number,
    Kind.MONEY: Reader.money,
    Kind.PRICE: Reader.price,
    Kind.DATE: Reader.day,
    Kind.YES_NO: Reader.yes_no,
    Kind.SEVERAL: Reader.several,
    Kind.FACTS: Reader.facts,
}


def guarded(text: str) -> str:
    """Text that no spreadsheet takes for a formula; `unguarded` gives it back unchanged."""
    return "'" + text if text.startswith(FORMULA_SIGNS) else text


def unguarded(text: str) -> str:
    """Text without the quote that `guarded` puts in front."""
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA_SIGNS) else text
