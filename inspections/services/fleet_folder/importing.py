"""Brings a fleet folder in: read, checked and planned first, then written whole or not at all."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import numpy as np
import structlog
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from fleetdoors.services.one_at_a_time import one_at_a_time
from fleetdoors.services.progress import SILENT, Progress
from fleetdoors.services.recomputation import outlooks_changed, shelves_changed
from fleetdoors.services.task_catalogue import keep_changes_since
from fleetdoors.services.task_sheet import every_sheet
from inspections.services.fleet_folder.collector import paused_collector
from inspections.services.fleet_folder.errors import Problems, SourceRefusedError
from inspections.services.fleet_folder.existing import keys_of
from inspections.services.fleet_folder.fleet_tables import DOORS
from inspections.services.fleet_folder.folder_plan import FolderPlan, FolderPlanner
from inspections.services.fleet_folder.limits import COMMAND_LIMITS, Limits
from inspections.services.fleet_folder.linked_writing import LinkedWriter
from inspections.services.fleet_folder.order_check import settle_orders_on_record
from inspections.services.fleet_folder.outcomes import TableCount
from inspections.services.fleet_folder.reading_rows import write_readings
from inspections.services.fleet_folder.sources import Source
from inspections.services.fleet_folder.writing import Writer
from inspections.services.ledger_import import book_what_is_not_booked
from inspections.services.recomputation import doors_changed, fleet_changed

log = structlog.get_logger(__name__)


@dataclass(frozen=True)
class Report:
    """What an import did or would do, and what is wrong with the folder."""

    counts: tuple[TableCount, ...] = ()
    problems: Problems = field(default_factory=Problems)

    @property
    def refused(self) -> bool:
        """Whether anything is wrong, so that nothing may be written."""
        return bool(self.problems)

    @property
    def changes_nothing(self) -> bool:
        """Whether the database says all of it already."""
        return all(count.changes_nothing for count in self.counts)


def check_fleet(
    path: Path, *, now: datetime, limits: Limits = COMMAND_LIMITS, progress: Progress = SILENT
) -> Report:
    """Say what an import would do, and every problem; write nothing."""
    problems = Problems()
    with paused_collector():
        plan = _planned(path, now, limits, problems, progress)
    return Report(tuple(plan.counts) if plan else (), problems)


def import_fleet(
    path: Path, *, now: datetime, limits: Limits = COMMAND_LIMITS, progress: Progress = SILENT
) -> Report:
    """Import a folder that has no problem; one that has is left alone.

    Everything is read and compared before the database is locked for writing. What somebody wrote
    in between may contradict the plan; it is then made once more. Two imports follow one another:
    each must see what the other brought.
    """
    with one_at_a_time("import"):
        return _import(path, now, limits, progress)


def _import(path: Path, now: datetime, limits: Limits, progress: Progress) -> Report:
    try:
        return _import_once(path, now, limits, progress)
    except IntegrityError as error:
        log.warning("import contradicted the database", error=str(error))
    try:
        return _import_once(path, now, limits, progress)
    except IntegrityError as error:
        problems = Problems()
        problems.add(path.name, _("the database refused it: %(error)s") % {"error": error})
        return Report((), problems)


def _import_once(path: Path, now: datetime, limits: Limits, progress: Progress) -> Report:
    problems = Problems()
    with paused_collector():
        plan = _planned(path, now, limits, problems, progress)
    report = Report(tuple(plan.counts) if plan else (), problems)
    if plan is not None and not report.refused and not report.changes_nothing:
        with paused_collector():
            _write(plan, now, progress)
        log.info("fleet folder imported", source=path.name, doors=len(plan.door_numbers))
    return report


def _planned(
    path: Path, now: datetime, limits: Limits, problems: Problems, progress: Progress
) -> FolderPlan | None:
    progress.begin(_("Reading and checking"), None)
    try:
        with Source(path, limits, problems) as source:
            return FolderPlanner(source, now, problems, progress).plan()
    except SourceRefusedError as refusal:
        problems.add(refusal.file, refusal.rule)
    return None


@transaction.atomic
def _write(plan: FolderPlan, now: datetime, progress: Progress) -> None:
    progress.begin(_("Writing"), _rows_to_write(plan))
    writer = Writer(progress)
    sheets = every_sheet()
    for keyed in plan.keyed:
        writer.write_keyed(keyed)
    keep_changes_since(sheets, at=now, reason=_("A fleet folder was imported."))
    pks = keys_of(DOORS)
    door_pks = np.array([pks[serial] for serial in plan.door_numbers], np.int64)
    write_readings(plan.readings, door_pks, now, progress)
    for events in plan.events:
        writer.write_events(events)
    writer.write_stock(plan.stock)
    linked = LinkedWriter(progress)
    linked.write_all(plan.linked)
    settle_orders_on_record(plan.linked)
    booked = (each for each in plan.linked if each.table.is_booked)
    book_what_is_not_booked([row for each in booked for row in linked.to_book(each)])
    _ask_for_figures(plan, pks)


def _ask_for_figures(plan: FolderPlan, pks: dict[str, int]) -> None:
    """Ask for whatever the folder bears on, once the import stands."""
    if plan.announces:
        # First: where nothing was ever computed there is nothing to do before the doors are.
        outlooks_changed()
    if plan.concerns_the_fleet:
        fleet_changed()
    else:
        doors_changed([pks[serial] for serial in plan.concerned_doors()])
    if plan.concerns_shelves:
        # Doors by name bring the shelves of their own depots up to date, and no others.
        shelves_changed()


def _rows_to_write(plan: FolderPlan) -> int:
    keyed = sum(len(each.new) + len(each.changed) for each in plan.keyed)
    events = sum(len(each.new) for each in plan.events)
    linked = sum(len(each.new) for each in plan.linked)
    return keyed + events + linked + len(plan.readings.new) + len(plan.stock.new)
