"""What lies on the shelves, as it was known at the time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analytics.datasets.catalogue import Parts
from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import Column, EpochDays, EpochSeconds, Floats, Table, fetch_table
from analytics.datasets.doors import DoorRows
from analytics.datasets.work import PartUseRows
from inspections.models import StockCount


@dataclass(frozen=True)
class Shelves:
    """By depot row and part row, (depots, parts); nan where nothing was ever counted."""

    on_hand: Floats
    on_order: Floats
    expected_day: Floats
    service_level: Floats


def fetch_shelves(doors: DoorRows, parts: Parts, used: PartUseRows) -> Shelves:
    """The latest count of each part less what was drawn since; runs one query."""
    rows = _latest_counts(_known_counts(doors))
    shape = (len(doors.depots), len(parts.ids))
    depot, part = doors.depots.index_of(rows["depot"]), parts.index_of(rows["part"])
    counted_at = np.full(shape, np.inf)
    counted_at[depot, part] = rows["epoch"]
    shelves = Shelves(*(np.full(shape, np.nan) for _ in range(4)))
    shelves.on_hand[depot, part] = rows["on_hand"]
    shelves.on_order[depot, part] = rows["on_order"]
    shelves.expected_day[depot, part] = rows["expected"]
    shelves.service_level[depot, part] = rows["service"]
    used_part = parts.index_of(used.part_id)
    drawn = used.draws_on_stock & (used.depot >= 0) & (used_part >= 0)
    drawn[drawn] &= used.epoch[drawn] > counted_at[used.depot[drawn], used_part[drawn]]
    np.subtract.at(shelves.on_hand, (used.depot[drawn], used_part[drawn]), used.quantity[drawn])
    return shelves


def _known_counts(doors: DoorRows) -> Table:
    columns: dict[str, Column] = {
        "depot": ("depot_id", np.float64),
        "part": ("part_id", np.int64),
        "epoch": (EpochSeconds("counted_at"), np.int64),
        "on_hand": ("on_hand", np.float64),
        "on_order": ("on_order", np.float64),
        "expected": (EpochDays("expected_on"), np.float64),
        "service": ("service_level", np.float64),
        "entered": (EpochSeconds("entered_at"), np.int64),
        "superseded": (EpochSeconds("superseded_at"), np.float64),
    }
    known = StockCount.objects.filter(counted_at__lt=latest_moment(doors.as_of))
    if isinstance(doors.as_of, datetime):
        return fetch_table(known.entered_before(doors.as_of), columns)
    rows = fetch_table(known, columns)
    moment = doors.depots.moment[doors.depots.index_of(rows["depot"])]
    stands = np.isnan(rows["superseded"]) | (rows["superseded"] >= moment)
    return rows[(rows["epoch"] < moment) & (rows["entered"] < moment) & stands]


def _latest_counts(rows: Table) -> Table:
    """The last count of each depot and part."""
    rows = rows[np.lexsort((rows["epoch"], rows["part"], rows["depot"]))]
    same = (rows["depot"][1:] == rows["depot"][:-1]) & (rows["part"][1:] == rows["part"][:-1])
    return rows[np.append(~same, True)] if len(rows) else rows
