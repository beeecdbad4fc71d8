"""The rows of each table as a fleet folder writes them, block by block."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any

import numpy as np
from django.db.models import Case, F, OuterRef, Q, QuerySet, Subquery, Value, When

from fleetdoors.models import Mounting
from inspections.models import ReadingStatus
from inspections.services.fleet_folder.cells import guarded
from inspections.services.fleet_folder.columns import Kind, Table
from inspections.services.fleet_folder.entries import owners
from inspections.services.fleet_folder.existing import several_codes
from inspections.services.fleet_folder.fleet_tables import DOORS
from inspections.services.fleet_folder.microseconds_sql import Microseconds
from inspections.services.fleet_folder.moments import UNKNOWN
from inspections.services.fleet_folder.record_tables import READINGS, STOCK
from inspections.services.fleet_folder.stay_tables import FITMENTS
from inspections.services.fleet_folder.whereabouts import Clocks

BLOCK_ROWS = 20_000
Cells = Sequence[str]
# A reading that was replaced; one that was only taken back is written as held.
IS_REPLACED = Q(superseded_at__isnull=False, correction__isnull=False)
IS_TAKEN_BACK = Q(superseded_at__isnull=False, correction__isnull=True)
REPLACEMENTS_IN_FORCE = Q(superseded_at__isnull=True, corrects__isnull=False)


@dataclass(frozen=True)
class ExportedRows:
    """Reads tables, and puts moments on the clocks of their doors and depots."""

    owners: Mapping[str, dict[str, int]]
    clocks: Mapping[str, Clocks]

    def count(self, table: Table) -> int:
        """How many rows the table will have."""
        return _rows(table).count()

    def blocks(self, table: Table) -> Iterator[list[Cells]]:
        """The rows, ordered by what they say, so that equal fleets make equal files."""
        made_of = _expressions(table)
        cells = {
            f"{c.name}_cell": Microseconds(made_of[c.name])
            if c.kind == Kind.MOMENT
            else made_of[c.name]
            for c in table.columns
        }
        # A correction comes after what it corrects: an import links them in this order.
        first = [name for name in (*table.key, "entered_at") if name in table.by_name]
        order = dict.fromkeys([*(f"{name}_cell" for name in first), *cells])
        chosen = _rows(table).annotate(**cells).order_by(*order).values_list(*cells)
        found = chosen.iterator(chunk_size=BLOCK_ROWS)
        several = {c.name: several_codes(table, c.name) for c in table.several}
        while block := list(islice(found, BLOCK_ROWS)):
            yield self._texts(table, block, several)

    def _texts(
        self, table: Table, block: list[tuple[Any, ...]], several: Mapping[str, Mapping[int, Any]]
    ) -> list[Cells]:
        names = [column.name for column in table.columns]
        values = dict(zip(names, zip(*block, strict=True), strict=True))
        texts: list[Cells] = []
        for column in table.columns:
            if column.kind == Kind.MOMENT:
                owner = owners(values[table.local_to], self.owners[table.local_to])
                texts.append(self.clocks[table.local_to].texts(owner, _micros(values[column.name])))
            elif column.kind == Kind.SEVERAL:
                named = several[column.name]
                texts.append([guarded("+".join(named.get(pk, ()))) for pk in values[column.name]])
            else:
                texts.append(list(map(TEXTS[column.kind], values[column.name])))
        return list(zip(*texts, strict=True))


def _micros(values: Sequence[int | None]) -> Any:
    return np.array([UNKNOWN if each is None else each for each in values], np.int64)


def _rows(table: Table) -> QuerySet[Any, Any]:
    """The rows of the model that become rows of the table."""
    rows: QuerySet[Any, Any] = table.model._default_manager.all()
    if table is READINGS:
        return rows.exclude(REPLACEMENTS_IN_FORCE)
    if table is FITMENTS:
        # A stay that was taken back never was, and one that goes on after all never ended.
        return rows.filter(superseded_at__isnull=True)
    if table is STOCK:
        # The table speaks of the depot's shelf: what was counted in a van is not in it.
        return rows.filter(superseded_at__isnull=True, place__isnull=True)
    return rows


def _expressions(table: Table) -> dict[str, Any]:
    """What each column is made of."""
    own = {
        c.name: F("pk" if c.kind == Kind.SEVERAL else c.lookup) for c in table.columns if c.lookup
    }
    if table is DOORS:
        return own | _present_mounting()
    if table is READINGS:
        return own | _reading_words()
    return own


def _present_mounting() -> dict[str, Any]:
    now = Mounting.objects.open().filter(door=OuterRef("pk"))
    return {
        "truck": Subquery(now.values("truck__fleet_number")[:1]),
        "mounted_on": Subquery(now.values("mounted_on")[:1]),
    }


def _reading_words() -> dict[str, Any]:
    held = Value(ReadingStatus.HELD.value)
    return {
        "status": Case(
            When(IS_REPLACED, then=Value("corrected")),
            When(IS_TAKEN_BACK, then=held),
            default=F("status"),
        ),
        "corrected_value": F("correction__counter_value"),
        "corrected_at": Case(When(IS_REPLACED, then=F("superseded_at"))),
        "ruling": Case(
            When(IS_REPLACED, then=F("correction__ruling")),
            When(IS_TAKEN_BACK, then=held),
            default=F("ruling"),
        ),
    }


def _text(value: str | None) -> str:
    return guarded(value) if value else ""


def _whole(value: int | None) -> str:
    return "" if value is None else str(value)


def _number(value: float | None) -> str:
    if value is None:
        return ""
    return str(int(value)) if value.is_integer() else repr(value)


def _money(value: Decimal | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _price(value: Decimal | None) -> str:
    return "" if value is None else f"{value:.4f}"


def _day(value: date | None) -> str:
    return "" if value is None else value.isoformat()


def _yes_no(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


TEXTS: dict[Kind, Callable[[Any], str]] = {
    Kind.TEXT: _text,
    Kind.WHOLE: _whole,
    Kind.NUMBER: _number,
    Kind.MONEY: _money,
    Kind.PRICE: _price,
    Kind.DATE: _day,
    Kind.YES_NO: _yes_no,
}
