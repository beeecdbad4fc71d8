"""Marks of faults and tasks done, made of what they say, for rows of other tables to name them."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.moments import microseconds
from inspections.services.fleet_folder.record_tables import FAULTS, TASKS_DONE
from inspections.services.fleet_folder.sheets import Sheet

MADE_OF: dict[str, tuple[Table, tuple[str, ...]]] = {
    FAULTS.name: (
        FAULTS,
        ("door", "found_at", "component", "mode", "complaint", "action", "entered_at"),
    ),
    TASKS_DONE.name: (
        TASKS_DONE,
        ("door", "task", "done_at", "at_cycles", "done_by", "entered_at"),
    ),
}


def marks_in_database(name: str) -> dict[int, str]:
    """The mark of every row of the table, by primary key; queries once."""
    table, columns = MADE_OF[name]
    lookups = [table.by_name[column].lookup for column in columns]
    rows = table.model._default_manager.order_by("pk").values_list("pk", *lookups)
    keys, said = [], []
    for pk, *values in rows.iterator(chunk_size=10_000):
        keys.append(pk)
        said.append(values)
    return dict(zip(keys, _numbered(map(_mark, said)), strict=True))


def marks_of_sheet(sheet: Sheet) -> set[str]:
    """The marks that the rows of the sheet have once they are in the database."""
    _table, columns = MADE_OF[sheet.table.name]
    return set(_numbered(_mark([row[name] for name in columns]) for _number, row in sheet.rows()))


def _mark(values: Iterable[Any]) -> str:
    said = "\x1f".join(_text(value) for value in values)
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def _text(value: Any) -> str:
    if value is None:
        return ""
    return str(microseconds(value) if isinstance(value, datetime) else value)


def _numbered(marks: Iterable[str]) -> list[str]:
    """Rows that say the same are told apart by their number."""
    seen: Counter[str] = Counter()
    numbered = []
    for mark in marks:
        seen[mark] += 1
        numbered.append(mark if seen[mark] == 1 else f"{mark}-{seen[mark]}")
    return numbered
