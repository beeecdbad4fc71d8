"""What an import would do to tables whose rows have a key: add, fill, change, or refuse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import NOT_PROVIDED
from django.utils.translation import gettext as _

from inspections.services.fleet_folder.columns import Keeping, Table
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.existing import (
    BOOKKEEPING,
    Key,
    StoredRow,
    says_what_was_taken_back,
    several_codes,
    stays_taken_back,
    stored_rows,
)
from inspections.services.fleet_folder.outcomes import Outcome
from inspections.services.fleet_folder.sheets import Sheet
from inspections.services.fleet_folder.stay_tables import FITMENTS

Row = dict[str, Any]


@dataclass(frozen=True)
class Change:
    """New values for a row of the database; `door` is set where it concerns one."""

    pk: int
    values: Row
    door: str | None


@dataclass
class KeyedPlan:
    """Rows to add and rows to change, and what becomes of each row of the file."""

    table: Table
    new: list[Row] = field(default_factory=list)
    changed: list[Change] = field(default_factory=list)
    outcomes: dict[int, Outcome] = field(default_factory=dict)

    def concerned_doors(self) -> set[str]:
        """Doors whose own rows change."""
        doors = {row["door"] for row in self.new if row.get("door")}
        return doors | {change.door for change in self.changed if change.door}


class KeyedPlanner:
    """Compares the rows of a table's sheets with the database."""

    def __init__(self, table: Table, problems: Problems) -> None:
        self.table = table
        self.problems = problems
        self.plan = KeyedPlan(table)
        self.stored = stored_rows(table)
        self.several = {c.name: several_codes(table, c.name) for c in table.several}
        self.defaults = model_defaults(table)
        self.taken_back = stays_taken_back() if table is FITMENTS else {}
        self.seen: dict[Key, tuple[int, Row]] = {}

    def take(self, sheet: Sheet) -> None:
        """Plan every sound row of a sheet."""
        for number, row in sheet.rows():
            self._take_row(sheet.file, number, row)

    def _take_row(self, file: str, number: int, row: Row) -> None:
        key = tuple(row[name] for name in self.table.key)
        if key in self.seen:
            self._take_repeat(file, number, row, key)
            return
        self.seen[key] = (number, row)
        if says_what_was_taken_back(row, self.taken_back.get(key, ())):
            self.plan.outcomes[number] = Outcome.UNCHANGED
            return
        stored = self.stored.get(key)
        before = self._before(stored)
        self._check_rules(file, number, row, before)
        if stored is None:
            self.plan.new.append(row)
            self.plan.outcomes[number] = Outcome.NEW
            return
        values = self._differences(file, number, row, before)
        self.plan.outcomes[number] = Outcome.CHANGED if values else Outcome.UNCHANGED
        if values:
            self.plan.changed.append(Change(stored[0], values, row.get("door")))

    def _take_repeat(self, file: str, number: int, row: Row, key: Key) -> None:
        first_number, first = self.seen[key]
        if self.table.keeping == Keeping.FILL and row == first:
            self.plan.outcomes[number] = Outcome.UNCHANGED
            return
        self.problems.add(
            file,
            _("duplicate: row %(first)d is the same %(key)s")
            % {"first": first_number, "key": " + ".join(self.table.key)},
            row=number,
            column=self.table.key[-1 if len(key) == 1 else 0],
            value=" + ".join("" if part is None else str(part) for part in key),
        )

    def _before(self, stored: StoredRow | None) -> Row:
        """The row as the database holds it, or would fill it in."""
        if stored is None:
            return self.defaults
        before = dict(zip((c.name for c in self.table.stored), stored[1:], strict=True))
        return before | {name: codes.get(stored[0]) for name, codes in self.several.items()}

    def _differences(self, file: str, number: int, row: Row, before: Row) -> Row:
        """Values that the file knows and the database does not, or not so."""
        values = {}
        for name, old in before.items():
            if self.table.keeping == Keeping.FIRST_WORD:
                break
            new = row[name]
            if name in BOOKKEEPING or name in self.table.key or new is None or new == old:
                continue
            if old is not None and self.table.keeping == Keeping.FILL:
                self.problems.add(
                    file,
                    _("differs from the record, which says %(old)s; history is not overwritten")
                    % {"old": old},
                    row=number,
                    column=name,
                    value=new,
                )
            values[name] = new
        if self.table.ending in values and "end_entered_at" in row:
            values["end_entered_at"] = row["end_entered_at"]
        return values

    def _check_rules(self, file: str, number: int, row: Row, before: Row) -> None:
        check_rules(self.table, self.problems, file, number, merged(row, before))


def merged(row: Row, before: Row) -> Row:
    """The row with what the database knows where the file is silent."""
    return {name: before.get(name) if value is None else value for name, value in row.items()}


def check_rules(table: Table, problems: Problems, file: str, number: int, row: Row) -> None:
    """Note each rule between columns that the row breaks."""
    for rule in table.rules:
        if not rule.holds(row):
            problems.add(file, rule.words, row=number, column=rule.column, value=row[rule.column])


def model_defaults(table: Table) -> Row:
    """What the model fills into a new row."""
    fields = {c.name: table.model._meta.get_field(c.field) for c in table.stored}
    defaults = {name: getattr(each, "default", None) for name, each in fields.items()}
    return {
        name: None if value in (NOT_PROVIDED, "") or callable(value) else value
        for name, value in defaults.items()
    }


def plan_keyed(table: Table, sheets: Iterable[Sheet], problems: Problems) -> KeyedPlan:
    """Plan the rows of one table, from its own file and what other files say about it."""
    filled = [sheet for sheet in sheets if len(sheet)]
    if not filled:
        return KeyedPlan(table)
    planner = KeyedPlanner(table, problems)
    for sheet in filled:
        planner.take(sheet)
    return planner.plan
