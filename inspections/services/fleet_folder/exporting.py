"""Writes the whole fleet back as a fleet folder.

What is written can be imported into an empty database and written again without a byte's
difference. Text that a spreadsheet would run as a formula (it starts with = + - @) gets a quote in
front, which the import takes away; text that starts with a quote gets one more.

People go along by name, their accounts do not: who comes in with a folder may not sign in until an
administrator says so. A folder is handed on to others: no hash of a password, of a phone's PIN or
of a machine's key may ever stand in one. These travel with a backup alone, and so do photos and
documents.

Movements of stock that rest on a count, a delivery or a part used are not written: the import books
them anew, with the others, in the order of entry.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fleetdoors.services.progress import SILENT, Progress
from inspections.models import CounterReading
from inspections.services.fleet_folder.exported_rows import ExportedRows
from inspections.services.fleet_folder.fleet_clocks import (
    depot_clocks,
    door_clocks,
    zones_by_depot,
)
from inspections.services.fleet_folder.linked_columns import LinkedTable
from inspections.services.fleet_folder.linked_rows import LinkedRows
from inspections.services.fleet_folder.mountings import recorded_stays
from inspections.services.fleet_folder.readings import door_numbers
from inspections.services.fleet_folder.snapshot import one_snapshot
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.targets import Target, opened_target

# More readings than this take longer to write out than a person waits for a page.
LARGE_READINGS = 200_000


def is_large_fleet() -> bool:
    """Whether writing the fleet out takes more than a moment."""
    rows = CounterReading.objects.order_by().values("pk")
    return rows[LARGE_READINGS : LARGE_READINGS + 1].exists()


def export_fleet(target: Path, *, progress: Progress = SILENT) -> dict[str, int]:
    """Write every table that has rows to a new folder, .zip or .xlsx; returns rows by table."""
    with one_snapshot(), opened_target(target) as opened:
        rows = _exported_rows()
        linked = LinkedRows(rows.owners, rows.clocks)
        return {
            table.name: _write(
                table, linked if isinstance(table, LinkedTable) else rows, opened, progress
            )
            for table in TABLES.values()
        }


def _exported_rows() -> ExportedRows:
    numbers = door_numbers([])
    depots, clocks = depot_clocks(zones_by_depot({}))
    return ExportedRows(
        owners={"door": numbers, "depot": depots},
        clocks={"door": door_clocks(numbers, recorded_stays(), {}), "depot": clocks},
    )


def _write(table: Any, rows: Any, target: Target, progress: Progress) -> int:
    total = rows.count(table)
    if not total:
        return 0
    progress.begin(table.name, total)
    with target.table(table) as sheet:
        sheet.write([[column.name for column in table.columns]])
        for block in rows.blocks(table):
            sheet.write(block)
            progress.advance(len(block))
    return total


def write_template(target: Path) -> None:
    """Write every table with its header only, for a person to fill in."""
    with opened_target(target) as opened:
        for table in TABLES.values():
            with opened.table(table) as sheet:
                sheet.write([[column.name for column in table.columns]])
