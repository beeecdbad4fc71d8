"""What an import would add to tables whose rows have no key of their own: equal rows are counted.

Two equal failures in a file are two failures; the number kept is the larger of file and database.
A row that was corrected since still counts as being there. The moment of entry does not tell two
rows apart.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from inspections.codes import FAILURE_MODES
from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.existing import Key, recorded_rows
from inspections.services.fleet_folder.keyed_plan import Row, check_rules
from inspections.services.fleet_folder.outcomes import Outcome
from inspections.services.fleet_folder.sheets import Sheet


@dataclass
class EventPlan:
    """Rows to add, and what becomes of each row of the file."""

    table: Table
    new: list[Row] = field(default_factory=list)
    outcomes: dict[int, Outcome] = field(default_factory=dict)

    def concerned_doors(self) -> set[str]:
        """Doors to which something is added."""
        return {row["door"] for row in self.new}


def plan_events(sheet: Sheet, problems: Problems) -> EventPlan:
    """Plan the rows of an event table."""
    plan = EventPlan(sheet.table)
    if not len(sheet):
        return plan
    there = _rows_there(sheet)
    for number, row in sheet.rows():
        check_rules(sheet.table, problems, sheet.file, number, row)
        key = tuple(row[name] for name in identifying(sheet.table))
        if there[key]:
            there[key] -= 1
            plan.outcomes[number] = Outcome.UNCHANGED
        else:
            plan.new.append(row)
            plan.outcomes[number] = Outcome.NEW
    return plan


def fill_components(sheet: Sheet) -> None:
    """Take the component from the failure mode where a fault names only the mode."""
    sheet.values["component"] = [
        FAILURE_MODES[mode].component if component is None and mode else component
        for component, mode in zip(sheet.column("component"), sheet.column("mode"), strict=True)
    ]


def identifying(table: Table) -> list[str]:
    """Columns whose values make a row what it is."""
    return [column.name for column in table.stored if column.identifies]


def _rows_there(sheet: Sheet) -> Counter[Key]:
    stored = [column.name for column in sheet.table.stored]
    at = [stored.index(name) + 1 for name in identifying(sheet.table)]
    doors = {door for door in sheet.column("door") if door}
    return Counter(tuple(row[i] for i in at) for row in recorded_rows(sheet.table, doors))
