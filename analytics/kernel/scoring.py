"""Sums behind the score: faults that came back, and hours within months."""

from __future__ import annotations

import numpy as np

from analytics.kernel.effective_days import Floats, Ints, LayUps
from analytics.kernel.exposure import Flags

REPEAT_DAYS, REPEAT_CYCLES = 30.0, 2_000.0


def came_back(
    door: Ints,
    component: Ints,
    day: Floats,
    cycles: Floats,
    *,
    within_days: float = REPEAT_DAYS,
    within_cycles: float = REPEAT_CYCLES,
) -> Flags:
    """Tell which repairs were of a component of the same door repaired shortly before.

    Parameters
    ----------
    door, component : (k,) int64
    day : (k,) epoch days
    cycles : (k,) lifetime cycles; nan unknown
    within_days, within_cycles : as near as this in one of the two is a repeat

    Returns
    -------
    (k,) bool

    Notes
    -----
    The two limits are common practice, no source.

    Examples
    --------
    >>> came_back(np.array([1, 1, 1]), np.array([7, 7, 8]), np.array([0.0, 20.0, 21.0]),
    ...     np.array([0.0, 900.0, 950.0])).tolist()
    [False, True, False]
    """
    order = np.lexsort((day, component, door))
    same = (np.diff(door[order]) == 0) & (np.diff(component[order]) == 0)
    near = (np.diff(day[order]) <= within_days) | (np.diff(cycles[order]) <= within_cycles)
    found = np.zeros(len(door), dtype=bool)
    found[order[1:]] = same & near
    return found


def days_within(spells: LayUps, edges: Floats, doors: int) -> Floats:
    """Add up the days of spells that fall into each period.

    Parameters
    ----------
    spells : LayUps, overlaps of one door counted once; nan or inf = it goes on
    edges : (m + 1,) epoch days, ascending
    doors : number of doors

    Returns
    -------
    (doors, m) days

    Examples
    --------
    >>> spells = LayUps(np.array([0, 0]), np.array([5.0, 8.0]), np.array([12.0, np.nan]))
    >>> days_within(spells, np.array([0.0, 10.0, 20.0]), 1).tolist()
    [[5.0, 10.0]]
    """
    one = spells.merged()
    found = np.zeros((doors, len(edges) - 1))
    for k in range(len(edges) - 1):
        inside = np.minimum(one.until_day, edges[k + 1]) - np.maximum(one.from_day, edges[k])
        found[:, k] = np.bincount(one.door, np.maximum(inside, 0.0), doors)
    return found


def open_at(begins: Floats, ends: Floats, moments: Floats) -> Flags:
    """Tell which spells are open at each moment.

    Parameters
    ----------
    begins, ends : (k,) epoch days; nan = never begins, nan or inf = does not end
    moments : (m,) epoch days

    Returns
    -------
    (k, m) bool, begun at or before the moment and not ended by it
    """
    begun = begins[:, None] <= moments
    return begun & ~(ends[:, None] <= moments)
