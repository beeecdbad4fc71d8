"""The rows of the linked tables as a fleet folder writes them, numbered in the order of entry."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

import numpy as np

from inspections.services.fleet_folder.cells import guarded
from inspections.services.fleet_folder.columns import Column, Kind
from inspections.services.fleet_folder.entries import owners
from inspections.services.fleet_folder.exported_rows import BLOCK_ROWS, TEXTS, Cells
from inspections.services.fleet_folder.linked_columns import LinkedTable
from inspections.services.fleet_folder.linked_marks import MADE_OF, marks_in_database
from inspections.services.fleet_folder.linked_tables import LINKED_BY_NAME
from inspections.services.fleet_folder.moments import UNKNOWN, microseconds
from inspections.services.fleet_folder.whereabouts import Clocks


class LinkedRows:
    """Reads the tables, and keeps the mark of each row for those that name it."""

    def __init__(self, owners: Mapping[str, dict[str, int]], clocks: Mapping[str, Clocks]) -> None:
        self.owners = owners
        self.clocks = clocks
        self._marks: dict[str, Mapping[int, Any]] = {}

    def count(self, table: LinkedTable) -> int:
        """How many rows the table will have."""
        return table.rows.count()

    def blocks(self, table: LinkedTable) -> Iterator[list[Cells]]:
        """The rows, the first entered first."""
        lookups = [f"{c.field}_id" if c.links_to else c.lookup for c in table.columns[1:]]
        rows = table.rows.values_list("pk", *lookups)
        found = rows.iterator(chunk_size=BLOCK_ROWS)
        while block := list(islice(found, BLOCK_ROWS)):
            yield self._texts(table, block)

    def _texts(self, table: LinkedTable, block: list[tuple[Any, ...]]) -> list[Cells]:
        names = [column.name for column in table.columns]
        values = dict(zip(names, zip(*block, strict=True), strict=True))
        marks = self._marks_of(table.name)
        local_to = table.local_to or "door"
        owner = owners(values.get(local_to, [None] * len(block)), self.owners[local_to])
        clocks = self.clocks[local_to]
        texts: list[Cells] = [[str(marks[pk]) for pk in values[table.mark.name]]]
        texts += [
            self._column(column, values[column.name], owner, clocks) for column in table.columns[1:]
        ]
        return list(zip(*texts, strict=True))

    def _column(self, column: Column, values: Sequence[Any], owner: Any, clocks: Clocks) -> Cells:
        if column.links_to:
            marks = self._marks_of(column.links_to)
            return ["" if pk is None else str(marks[pk]) for pk in values]
        if column.kind == Kind.MOMENT:
            micros = [UNKNOWN if each is None else microseconds(each) for each in values]
            return clocks.texts(owner, np.array(micros, np.int64))
        return list(map(_SAID.get(column.kind) or TEXTS[column.kind], values))

    def _marks_of(self, name: str) -> Mapping[int, Any]:
        """The mark of each row of a table, by primary key; queries once a table."""
        if name not in self._marks:
            self._marks[name] = (
                marks_in_database(name) if name in MADE_OF else _numbers(LINKED_BY_NAME[name])
            )
        return self._marks[name]


def _numbers(table: LinkedTable) -> dict[int, int]:
    keys = table.rows.values_list("pk", flat=True)
    return {pk: number for number, pk in enumerate(keys, start=1)}


def _facts(values: dict[str, Any] | None) -> str:
    return guarded(json.dumps(values, sort_keys=True, ensure_ascii=False)) if values else ""


_SAID: dict[Kind, Callable[[Any], str]] = {Kind.FACTS: _facts}
