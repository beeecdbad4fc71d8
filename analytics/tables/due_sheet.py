"""The due list as rows of a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext as _

from analytics.models import DueTask
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis
from analytics.reports.standing import standing

Cell = str | int | float | date | None
_FETCHED_AT_ONCE = 2_000
# A spreadsheet takes a cell that begins so for a formula, also in a plain CSV file.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n")


def headings() -> list[str]:
    """What the columns hold, with units."""
    return [
        _("Depot"),
        _("Truck"),
        _("Door"),
        _("Task"),
        _("Task, in words"),
        _("State"),
        _("Due on"),
        _("Cycles reached not before (8 in 10)"),
        _("Cycles reached not after (8 in 10)"),
        _("Decided by"),
        _("Last done on"),
        _("Last done at, cycles"),
        _("Due at, cycles"),
        _("Interval, cycles"),
        _("Interval, days"),
        _("Interval used, %"),
        _("Chance of being due within 30 days, %"),
        _("Work, minutes"),
    ]


def sheet_rows(tasks: DueTaskQuerySet, basis: Basis) -> Iterator[list[Cell]]:
    """One row per task, fetched as they are written."""
    for task in tasks.iterator(chunk_size=_FETCHED_AT_ONCE):
        yield _row(task, basis)


def _row(task: DueTask, basis: Basis) -> list[Cell]:
    return [
        task.depot.code if task.depot else None,
        task.truck.fleet_number if task.truck else None,
        task.door.serial,
        task.task.code,
        task.task.name,
        str(standing(task, basis).label),
        task.due_on,
        task.due_on_early,
        None if task.beyond_horizon else task.due_on_late,
        str(task.get_governed_by_display()),
        task.last_done_on,
        _whole(task.last_done_cycles),
        _whole(task.due_cycles),
        _whole(task.interval_cycles),
        _whole(task.interval_days),
        _whole(_times_hundred(task.share_used)),
        _whole(_times_hundred(task.probability_30_days)),
        task.task.minutes,
    ]


def formula_safe(cell: Cell) -> Cell:
    """The cell, kept from being taken for a formula by the program that opens the file."""
    if isinstance(cell, str) and cell.startswith(_FORMULA_SIGNS):
        return "'" + cell
    return cell


def _times_hundred(share: float | None) -> float | None:
    return None if share is None else share * 100


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)
