"""Everything the figures of some doors rest on, fetched in a constant number of queries."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from analytics.datasets.announced import Announced, fetch_announced
from analytics.datasets.catalogue import (
    Components,
    Parts,
    Tasks,
    fetch_components,
    fetch_parts,
    fetch_tasks,
)
from analytics.datasets.clock import AsOf
from analytics.datasets.counters import fetch_counters
from analytics.datasets.doors import DoorRows, fetch_doors
from analytics.datasets.fitments import FitmentRows, fetch_fitments
from analytics.datasets.follow_ups import FollowUpRows, fetch_follow_ups
from analytics.datasets.readings import ReadingRows, fetch_readings
from analytics.datasets.stock import Shelves, fetch_shelves
from analytics.datasets.work import (
    FaultRows,
    PartUseRows,
    TaskDoneRows,
    fetch_faults,
    fetch_parts_used,
    fetch_tasks_done,
)
from analytics.kernel.exposure import CounterSegments, Doors


@dataclass(frozen=True)
class UsageRecord:
    """What the usage of some doors, or of all, is learned from, as it was known at a moment."""

    doors: DoorRows
    counters: CounterSegments
    readings: ReadingRows

    @property
    def kernel_doors(self) -> Doors:
        """The doors as the kernel takes them."""
        rows = self.doors
        return Doors(rows.opening_cycles, rows.record_from_day, rows.modulus, rows.counts_per_cycle)


@dataclass(frozen=True)
class Fleet(UsageRecord):
    """The record of some doors, or of all, as it was known at a moment."""

    faults: FaultRows
    tasks_done: TaskDoneRows
    follow_ups: FollowUpRows
    fitments: FitmentRows
    tasks: Tasks
    components: Components


@dataclass(frozen=True)
class PartsRecord:
    """Parts, their use, what lies on the shelves, and what was announced."""

    parts: Parts
    used: PartUseRows
    shelves: Shelves
    announced: Announced = field(default_factory=Announced)


def fetch_fleet(as_of: AsOf, only: Collection[int] | None = None) -> Fleet:
    """The record of all doors, or of the named ones, as it was known at `as_of`."""
    # Doors first: their revision must not be newer than what is read after them.
    doors = fetch_doors(as_of, only)
    return Fleet(
        doors=doors,
        counters=fetch_counters(doors),
        readings=fetch_readings(doors),
        faults=fetch_faults(doors),
        tasks_done=fetch_tasks_done(doors),
        follow_ups=fetch_follow_ups(doors),
        fitments=fetch_fitments(doors),
        tasks=fetch_tasks(),
        components=fetch_components(),
    )


def fetch_usage_record(as_of: AsOf, only: Collection[int] | None = None) -> UsageRecord:
    """The same without what was found and done at the doors: what tells how they are used."""
    doors = fetch_doors(as_of, only)
    return UsageRecord(doors, fetch_counters(doors), fetch_readings(doors))


def fetch_parts_record(doors: DoorRows) -> PartsRecord:
    """Parts with their use on the doors, the stock and what was announced; a few queries."""
    parts = fetch_parts()
    used = fetch_parts_used(doors)
    shelves = fetch_shelves(doors, parts)
    return PartsRecord(parts, used, shelves, fetch_announced(doors, parts))
