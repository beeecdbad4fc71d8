"""What an import would do to the counter readings.

A reading is known by its door and moment. The same value as before changes nothing; a value that
was corrected since changes nothing; another value is a correction of what is in force. A word on a
reading (accepted, held) is taken where nobody has spoken yet and it differs from what holds.

Several rows of one door and moment are one reading, or one chain of corrections in the order of
the file, each row's corrected value being the value of the next; anything else is an error.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from django.utils.translation import gettext as _

from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.moments import Ints, Mask
from inspections.services.fleet_folder.outcomes import TableCount
from inspections.services.fleet_folder.reading_arrays import (
    NO_VALUE,
    DoorIndex,
    Readings,
    Word,
)
from inspections.services.fleet_folder.record_tables import READINGS
from inspections.services.fleet_folder.stored_readings import StoredReadings, stored_readings

Chains = dict[int, list[int]]


@dataclass
class ReadingPlan:
    """Rows of the file, by what becomes of them; all refer to `readings` by position."""

    readings: Readings
    new: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    # First row of a chain of corrections: all its rows.
    new_chains: Chains = field(default_factory=dict)
    # Row whose value in force corrects the stored reading beside it.
    corrections: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    corrected_pks: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    # Row whose word is taken for the stored reading beside it.
    rulings: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    ruled_pks: Ints = field(default_factory=lambda: np.empty(0, np.int64))

    def concerned_doors(self) -> set[int]:
        """Numbers of the doors whose readings change."""
        rows = np.concatenate(
            [self.new, np.array(list(self.new_chains), np.int64), self.corrections, self.rulings]
        )
        return set(np.unique(self.readings.door[rows]).tolist())

    def count(self) -> TableCount:
        """How many rows there are of each."""
        new = len(self.new) + sum(map(len, self.new_chains.values()))
        changed, corrected = len(self.rulings), len(self.corrections)
        read = len(self.readings)
        return TableCount(
            READINGS.name, read, new, changed, corrected, read - new - changed - corrected
        )


def plan_readings(
    readings: Readings, doors: DoorIndex, file: str, problems: Problems
) -> ReadingPlan:
    """Compare the file with itself, then with the database."""
    plan = ReadingPlan(readings)
    usable = np.flatnonzero(
        (readings.door >= 0)
        & (readings.read_at != np.iinfo(np.int64).min)
        & (readings.value != NO_VALUE)
    )
    order = _ordered(readings, usable)
    if not len(order):
        return plan
    single = _Singled(readings, order)
    single.note_conflicts(file, problems)
    if problems:
        return plan
    _compare(plan, single, stored_readings(np.unique(readings.door[order]), doors))
    return plan


def _ordered(readings: Readings, rows: Ints) -> Ints:
    """Rows by door and moment, in the order of the file where these are equal."""
    door, read_at = readings.door[rows], readings.read_at[rows]
    later = (door[1:] > door[:-1]) | ((door[1:] == door[:-1]) & (read_at[1:] >= read_at[:-1]))
    return rows if later.all() else rows[np.lexsort((read_at, door))]


class _Singled:
    """One row for each door and moment, and the chains of corrections among them."""

    def __init__(self, readings: Readings, order: Ints) -> None:
        self.readings = readings
        door, read_at = readings.door[order], readings.read_at[order]
        repeats = (door[1:] == door[:-1]) & (read_at[1:] == read_at[:-1])
        is_first = np.concatenate([[True], ~repeats])
        self.rows = order[is_first]
        self.chains: Chains = {}
        self.conflicts: list[list[int]] = []
        is_corrected = readings.status == Word.CORRECTED
        self._group_repeats(order, is_first, is_corrected)
        for row in self.rows[is_corrected[self.rows]].tolist():
            self.chains.setdefault(row, [row])

    def _group_repeats(self, order: Ints, is_first: Mask, is_corrected: Mask) -> None:
        value = self.readings.value
        starts = np.flatnonzero(is_first)
        group = np.cumsum(is_first) - 1
        differs = (value[order] != value[order][starts[group]]) | is_corrected[order]
        sizes = np.diff(np.append(starts, len(order)))
        crowded = np.flatnonzero((sizes > 1) & (np.bincount(group, differs) > 0))
        for each in crowded.tolist():
            rows = order[starts[each] : starts[each] + sizes[each]].tolist()
            chain = self._chain(rows)
            if chain is None:
                self.conflicts.append(rows)
            elif is_corrected[chain[0]]:
                self.chains[rows[0]] = chain

    def _chain(self, rows: list[int]) -> list[int] | None:
        """The rows as one chain of corrections, equal rows taken once; None = they are none."""
        taken: list[int] = []
        known = set()
        for row in rows:
            says = (self.readings.value[row], self.readings.corrected_value[row])
            if taken and says in known and says[0] != self.readings.corrected_value[taken[-1]]:
                continue
            known.add(says)
            taken.append(row)
        links = pairwise(taken)
        value, corrected_value = self.readings.value, self.readings.corrected_value
        return taken if all(corrected_value[a] == value[b] for a, b in links) else None

    def final_values(self) -> Ints:
        """The value in force of each reading."""
        final = self.readings.value[self.rows]
        if self.chains:
            at = {row: index for index, row in enumerate(self.rows.tolist())}
            for first, chain in self.chains.items():
                corrected = self.readings.corrected_value[chain[-1]]
                final[at[first]] = (
                    self.readings.value[chain[-1]] if corrected == NO_VALUE else corrected
                )
        return final

    def note_conflicts(self, file: str, problems: Problems) -> None:
        """Note rows that say two values for one door and moment."""
        for rows in self.conflicts:
            first = rows[0]
            for row in rows[1:]:
                if self.readings.value[row] != self.readings.value[first]:
                    problems.add(
                        file,
                        _("row %(first)d has another value for this door and moment: %(value)d")
                        % {
                            "first": self.readings.row[first],
                            "value": self.readings.value[first],
                        },
                        row=int(self.readings.row[row]),
                        column="counter_value",
                        value=int(self.readings.value[row]),
                    )


def _compare(plan: ReadingPlan, single: _Singled, stored: StoredReadings) -> None:
    """Sort the file's readings into new, corrected, ruled and unchanged."""
    readings, rows = plan.readings, single.rows
    at = stored.find(readings.door[rows], readings.read_at[rows])
    is_new = at < 0
    if single.chains:
        is_chained = np.isin(rows, np.fromiter(single.chains, np.int64, len(single.chains)))
        plan.new = rows[is_new & ~is_chained]
        fresh = set(rows[is_new & is_chained].tolist())
        plan.new_chains = {row: chain for row, chain in single.chains.items() if row in fresh}
    else:
        plan.new = rows[is_new]
    if is_new.all():
        return
    final = single.final_values()
    other = ~is_new & (final != stored.value[at])
    news = np.array(
        [
            index
            for index in np.flatnonzero(other).tolist()
            if not _was_said(readings, rows[index], final[index], stored)
        ],
        np.int64,
    )
    plan.corrections, plan.corrected_pks = rows[news], stored.pk[at[news]]
    ruling = readings.ruling[rows]
    ruled = np.flatnonzero(
        ~is_new
        & ~other
        & (ruling != Word.NONE)
        & (stored.ruling[at] == Word.NONE)
        & (ruling != stored.status[at])
    )
    plan.rulings, plan.ruled_pks = rows[ruled], stored.pk[at[ruled]]


def _was_said(readings: Readings, row: int, value: int, stored: StoredReadings) -> bool:
    key = (int(readings.door[row]), int(readings.read_at[row]), int(value))
    return key in stored.superseded
