"""What an import would add to the tables whose rows name one another; what is there stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from inspections.services.fleet_folder.columns import Column
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.keyed_plan import Row, check_rules
from inspections.services.fleet_folder.linked_columns import LinkedTable
from inspections.services.fleet_folder.linked_marks import (
    MADE_OF,
    marks_in_database,
    marks_of_sheet,
)
from inspections.services.fleet_folder.outcomes import Outcome
from inspections.services.fleet_folder.sheets import Sheet

# What a link stands for: the key of a row that is there, the mark of one that comes, or a text.
Token = tuple[str, Any]


@dataclass
class LinkedPlan:
    """Rows to add by their marks, rows that are there, and what becomes of each row."""

    table: LinkedTable
    new: dict[int, Row] = field(default_factory=dict)
    there: dict[int, int] = field(default_factory=dict)
    outcomes: dict[int, Outcome] = field(default_factory=dict)

    def token(self, mark: int) -> Token | None:
        """What stands behind a mark of the file."""
        if mark in self.there:
            return "there", self.there[mark]
        return ("new", mark) if mark in self.new else None

    def concerned_doors(self) -> set[str]:
        """Doors to which something is added."""
        return {row["door"] for row in self.new.values() if row.get("door")}


class LinkedPlanner:
    """Compares the linked tables with the database, each after those that it names."""

    def __init__(self, sheets: Mapping[str, Sheet], problems: Problems) -> None:
        self.sheets = sheets
        self.problems = problems
        self.plans: dict[str, LinkedPlan] = {}
        self._stored_marks: dict[str, dict[int, str]] = {}
        self._known_marks: dict[str, set[str]] = {}

    def plan_all(self, tables: Sequence[Any]) -> list[LinkedPlan]:
        """Plan every table in its order."""
        for table in tables:
            self.plans[table.name] = LinkedPlan(table)
            if len(self.sheets[table.name]):
                self._plan(self.plans[table.name], self.sheets[table.name])
        return list(self.plans.values())

    def _plan(self, plan: LinkedPlan, sheet: Sheet) -> None:
        stored = self._stored(plan.table)
        taken = self._taken(plan.table)
        seen: Counter[tuple[Any, ...]] = Counter()
        for number, row in sheet.rows():
            mark = row[plan.table.mark.name]
            if plan.token(mark) is not None:
                self._note(sheet, number, plan.table.mark, mark, _("another row has this mark"))
                continue
            check_rules(plan.table, self.problems, sheet.file, number, row)
            tokens = self._tokens(plan.table, sheet, number, row)
            if tokens is None:
                continue
            said = tuple(tokens.get(name, row[name]) for name in plan.table.identity)
            # Rows that say the same are counted: the third of a file is the third on record.
            keys = stored.get(said, ())
            if seen[said] < len(keys):
                plan.there[mark] = keys[seen[said]]
            else:
                plan.new[mark] = row
                self._note_taken(sheet, number, row, taken)
            seen[said] += 1
            plan.outcomes[number] = Outcome.NEW if mark in plan.new else Outcome.UNCHANGED

    def _taken(self, table: LinkedTable) -> set[str]:
        """What stands on record in the column that no two rows share; queries once."""
        column = table.shared_by_none
        if column is None:
            return set()
        return set(table.model._default_manager.values_list(column.lookup, flat=True))

    def _note_taken(self, sheet: Sheet, number: int, row: Row, taken: set[str]) -> None:
        column = self.plans[sheet.table.name].table.shared_by_none
        if column is None:
            return
        if row[column.name] in taken:
            words = _("another row is on record under it, or stands before it in the file")
            self._note(sheet, number, column, row[column.name], words)
        taken.add(row[column.name])

    def _tokens(
        self, table: LinkedTable, sheet: Sheet, number: int, row: Row
    ) -> dict[str, Token | None] | None:
        """What each link of the row stands for; None where one leads nowhere."""
        tokens: dict[str, Token | None] = {}
        for column in table.links:
            value = row[column.name]
            tokens[column.name] = None if value is None else self._token(column, value)
            if value is not None and tokens[column.name] is None:
                words = _("no row of %(table)s that stands before it has this mark")
                self._note(sheet, number, column, value, words % {"table": column.links_to})
                return None
        return tokens

    def _token(self, column: Column, value: Any) -> Token | None:
        if column.links_to not in MADE_OF:
            return self.plans[column.links_to].token(value)
        known = self._marks(column.links_to)
        return ("mark", value) if value in known else None

    def _stored(self, table: LinkedTable) -> dict[tuple[Any, ...], list[int]]:
        """The rows of the database by what makes them what they are; queries once."""
        columns = [table.by_name[name] for name in table.identity]
        lookups = [f"{c.field}_id" if c.links_to else c.lookup for c in columns]
        rows = table.rows.values_list("pk", *lookups)
        stored: dict[tuple[Any, ...], list[int]] = {}
        for pk, *values in rows.iterator(chunk_size=10_000):
            said = tuple(self._as_said(c, v) for c, v in zip(columns, values, strict=True))
            stored.setdefault(said, []).append(pk)
        return stored

    def _as_said(self, column: Column, value: Any) -> Any:
        if value in ("", None):
            return None
        if not column.links_to:
            return value
        if column.links_to not in MADE_OF:
            return "there", value
        return "mark", self._marks_stored(column.links_to)[value]

    def _marks_stored(self, name: str) -> dict[int, str]:
        if name not in self._stored_marks:
            self._stored_marks[name] = marks_in_database(name)
        return self._stored_marks[name]

    def _marks(self, name: str) -> set[str]:
        """The marks of a table's rows, those in the database and those that come."""
        if name not in self._known_marks:
            stored = set(self._marks_stored(name).values())
            self._known_marks[name] = stored | marks_of_sheet(self.sheets[name])
        return self._known_marks[name]

    def _note(self, sheet: Sheet, number: int, column: Column, value: Any, words: str) -> None:
        self.problems.add(sheet.file, words, row=number, column=column.name, value=value)
