"""Fills in when the beginnings and ends of stays were entered: empty = when they happened.

A beginning without a day counts as entered when the door's record began, or as always known when
nobody knows that either; an end without a day counts as entered with its beginning.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from inspections.services.fleet_folder.columns import Table
from inspections.services.fleet_folder.moments import DAY, UNKNOWN, Ints
from inspections.services.fleet_folder.sheets import Sheet
from inspections.services.fleet_folder.stay_tables import COUNTERS, FITMENTS, MOUNTINGS
from inspections.services.fleet_folder.whereabouts import FIRST_DAY, Clocks

BEGINNINGS = {MOUNTINGS.name: "mounted_on", COUNTERS.name: "fitted_on", FITMENTS.name: "fitted_on"}


def owners(codes: Sequence[str | None], index: dict[str, int]) -> Ints:
    """The number of each row's owner, or -1."""
    return np.array([-1 if code is None else index.get(code, -1) for code in codes], np.int64)


def place_moments(sheet: Sheet, index: dict[str, int], clocks: Clocks) -> None:
    """Put a sheet's moments on its owners' clocks."""
    codes = sheet.column(sheet.table.local_to) if sheet.table.local_to else [None] * len(sheet)
    owner = owners(codes, index)
    for name, read in sheet.moments.items():
        sheet.place_on_clock(name, clocks.utc(owner, read.microseconds, read.has_offset))


def fill_entries(
    sheet: Sheet, index: dict[str, int], clocks: Clocks, record_from: dict[str, date | None]
) -> None:
    """Fill in the moments of entry of a sheet of stays."""
    if not len(sheet):
        return
    doors = sheet.column("door")
    owner = owners(doors, index)
    begun = [
        day or (record_from.get(door) if door else None) or date(1970, 1, 1)
        for door, day in zip(doors, sheet.column(BEGINNINGS[sheet.table.name]), strict=True)
    ]
    began = _starts(owner, begun, clocks)
    entered = _given(sheet, "entered_at", owner, clocks)
    entered = np.where(entered == UNKNOWN, began, entered)
    ended = _starts(owner, sheet.column("removed_on"), clocks)
    ended = np.where(ended == UNKNOWN, entered, ended)
    end_entered = _given(sheet, "end_entered_at", owner, clocks)
    end_entered = np.where(end_entered == UNKNOWN, ended, end_entered)
    has_ended = np.array([value is not None for value in _endings(sheet.table, sheet)], bool)
    sheet.place_on_clock("entered_at", entered)
    sheet.place_on_clock("end_entered_at", np.where(has_ended, end_entered, UNKNOWN))


def fill_event_entries(sheet: Sheet, happened: str) -> None:
    """An event whose entry is empty was entered when it happened."""
    sheet.values["entered_at"] = [
        entered or moment
        for entered, moment in zip(sheet.column("entered_at"), sheet.column(happened), strict=True)
    ]


def _endings(table: Table, sheet: Sheet) -> Sequence[object]:
    return sheet.column(table.ending)


def _given(sheet: Sheet, name: str, owner: Ints, clocks: Clocks) -> Ints:
    read = sheet.moments.get(name)
    if read is None:
        return np.full(len(sheet), UNKNOWN)
    return clocks.utc(owner, read.microseconds, read.has_offset)


def _starts(owner: Ints, days: Sequence[date | None], clocks: Clocks) -> Ints:
    """When each day begins on its owner's clock."""
    local = np.array(
        [UNKNOWN if day is None else (day.toordinal() - FIRST_DAY) * DAY for day in days],
        np.int64,
    )
    return clocks.utc(owner, local, np.zeros(len(local), bool))
