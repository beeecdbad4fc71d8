"""What the other counters of a depot showed: a value may have been read on another truck."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.effective_days import Floats, Ints, door_key
from analytics.kernel.exposure import Readings

_GRID_DAYS = 14.0
_LEAST_SPREAD_COUNTS = 40.0
_CARRY_DAYS = 60.0
# Among more counters than this some value always fits, so that a fit says nothing.
MOST_NEIGHBOURS = 400


@dataclass(frozen=True)
class Neighbours:
    """Counter values of every door on a grid of days.

    Parameters
    ----------
    first_day : epoch day of the first column
    value : (n, g) float32 counts, nan where a door has no reading nearby
    own : (k,) int64, row here of each door that is being judged, -1 if it has none
    depot : (k,) int64, depot of each door that is being judged, -1 unknown
    order, offsets : doors of depot d are order[offsets[d]:offsets[d+1]]
    """

    first_day: float
    value: NDArray[np.float32]
    own: Ints
    depot: Ints
    order: Ints
    offsets: Ints

    def seen_by(self, own: Ints, depot: Ints) -> Neighbours:
        """Return the same counters for other doors to be judged: their rows here, their depots."""
        return Neighbours(self.first_day, self.value, own, depot, self.order, self.offsets)

    def highest_density(self) -> float:
        """Return a bound on what `match` can give to any value."""
        return 0.4 / _LEAST_SPREAD_COUNTS

    def match(self, door: Ints, day: Floats, value: Floats) -> Match:
        """Find the door of the same depot whose counter fits each value best.

        Parameters
        ----------
        door : (k,) int64, numbered as the doors being judged
        day : (k,) epoch days
        value : (k,) counts read

        Returns
        -------
        Match
        """
        depot = self.depot[door]
        known = (depot >= 0) & (depot < len(self.offsets) - 1)
        depot = np.where(known, depot, 0)
        size = np.where(known, self.offsets[depot + 1] - self.offsets[depot], 0)
        size[size > MOST_NEIGHBOURS] = 0
        owner = np.repeat(np.arange(len(door)), size)
        starts = np.concatenate(([0], np.cumsum(size)))
        other = self.order[
            np.arange(starts[-1]) - np.repeat(starts[:-1] - self.offsets[depot], size)
        ]
        column = (day - self.first_day) / _GRID_DAYS
        left = np.clip(np.floor(column).astype(np.int64), 0, self.value.shape[1] - 2)[owner]
        low, high = self.value[other, left], self.value[other, left + 1]
        step = high - low
        spread = _LEAST_SPREAD_COUNTS + 0.25 * np.abs(step)
        apart = (value[owner] - low - step * (column[owner] - left)) / spread
        fits = np.exp(-0.5 * apart * apart) / (2.5066 * spread)
        fits = np.where((other != self.own[door][owner]) & np.isfinite(fits), fits, 0.0)
        return _best_of(fits, other, owner, starts)


@dataclass(frozen=True)
class Match:
    """How well values fit the other counters of the depot.

    Parameters
    ----------
    density : (k,) mean density over the other doors, per count
    door : (k,) int64, row of the best fitting one; -1 where none fits
    """

    density: Floats
    door: Ints


def _best_of(fits: Floats, other: Ints, owner: Ints, starts: Ints) -> Match:
    """Reduce the fits of all pairs to one row for each value."""
    k = len(starts) - 1
    total = np.bincount(owner, weights=fits, minlength=k)
    count = np.maximum(np.diff(starts) - 1, 1)
    best = np.full(k, -1, np.int64)
    some = np.flatnonzero(np.diff(starts) > 0)
    if len(some):
        top = np.zeros(k)
        top[some] = np.maximum.reduceat(fits, starts[:-1][some])
        hit = np.flatnonzero((fits == top[owner]) & (fits > 0))
        best[owner[hit]] = other[hit]
    return Match(total / count, best)


def neighbour_values(readings: Readings, depot: Ints) -> Neighbours:
    """Lay the counter values of all doors on one grid of days.

    Parameters
    ----------
    readings : Readings of n doors, as read
    depot : (n,) int64, -1 unknown

    Returns
    -------
    Neighbours

    Notes
    -----
    Straight lines between a door's readings, held flat for 60 days beyond them. Steps that fall (an
    exchange, a rollover, a slip) are left empty. A slip of the neighbour itself spoils at most the
    columns beside it.
    """
    n = len(depot)
    first_day = float(readings.day.min()) if len(readings.day) else 0.0
    last_day = float(readings.day.max()) if len(readings.day) else 0.0
    columns = int(np.ceil((last_day - first_day) / _GRID_DAYS)) + 2
    grid = first_day + _GRID_DAYS * np.arange(float(columns))
    value = np.full((n, columns), np.nan, np.float32)
    keys = door_key(readings.door(), readings.day)
    batch = max(1, 500_000 // columns)
    for start in range(0, n if len(keys) else 0, batch):
        doors = np.arange(start, min(start + batch, n))
        value[doors] = _grid_rows(readings, keys, doors, grid)
    order = np.argsort(depot, kind="stable")
    depots = int(depot.max()) + 1 if n else 0
    return Neighbours(
        first_day,
        value,
        np.arange(n),
        depot,
        order,
        np.searchsorted(depot[order], np.arange(depots + 2)),
    )


def _grid_rows(readings: Readings, keys: Floats, doors: Ints, grid: Floats) -> NDArray[np.float32]:
    """Return the grid values of some doors, (d, g)."""
    door = np.repeat(doors, len(grid))
    day = np.tile(grid, len(doors))
    begin, end = readings.offsets[door], readings.offsets[door + 1]
    row = np.searchsorted(keys, door_key(door, day), side="right") - 1
    low = np.clip(row, begin, np.maximum(end - 1, begin))
    high = np.clip(row + 1, begin, np.maximum(end - 1, begin))
    low, high = np.minimum(low, len(keys) - 1), np.minimum(high, len(keys) - 1)
    width = readings.day[high] - readings.day[low]
    step = readings.value[high] - readings.value[low]
    share = np.clip((day - readings.day[low]) / np.where(width > 0, width, 1.0), 0.0, 1.0)
    value = readings.value[low] + step * share
    beyond = np.maximum(readings.day[low] - day, day - readings.day[high])
    empty = (end == begin) | (step < 0) | (beyond > _CARRY_DAYS)
    return np.where(empty, np.nan, value).astype(np.float32).reshape(len(doors), len(grid))
