"""How announced changes of use stretch the days ahead, for each part at each depot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analytics.assessment.installed_base import Positions
from analytics.datasets.columns import Floats, Ints
from analytics.datasets.doors import DoorRows
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.announced import UseSteps, present_days

Stretch = Callable[[Floats], Floats]


@dataclass(frozen=True)
class UseAhead:
    """Share of each pattern of changes in the use behind a part at a depot, and its days.

    `fitted` (parts, depots, patterns): cycles a day of the positions that the part will serve;
    `doors` (parts, depots, patterns): of all doors that it fits, for parts known by past use only.
    """

    patterns: tuple[tuple[UseSteps, ...], ...]
    fitted: Floats
    doors: Floats

    def of(self, part: int, depot: int) -> Stretch | None:
        """Days of present use behind days ahead; None where nothing announced concerns them."""
        weight = self.fitted[part, depot]
        if not weight.sum():
            weight = self.doors[part, depot]
        if not weight[1:].any():
            return None
        share = weight / weight.sum()
        steps = [each[depot] if each else None for each in self.patterns]

        def stretched(days: Floats) -> Floats:
            ahead = np.asarray(days, dtype=float)
            found = np.zeros_like(ahead)
            for portion, each in zip(share.tolist(), steps, strict=True):
                if portion:
                    found += portion * (ahead if each is None else present_days(ahead, each))
            return found

        return stretched


def use_ahead(
    fleet: Fleet, record: PartsRecord, positions: Positions, cycles_per_day: Floats
) -> UseAhead:
    """Sort the doors by the changes that concern them, and weigh them by what they run."""
    doors, parts = fleet.doors, len(record.parts.ids)
    pattern, chosen = _pattern_of_door(doors, record)
    shape = (parts, len(doors.depots), len(chosen))
    fitted, every = np.zeros(shape), np.zeros(shape)
    own = np.flatnonzero(positions.part >= 0)
    place = (positions.part[own], positions.depot[own], pattern[positions.door[own]])
    np.add.at(fitted, place, positions.cycles_per_day[own])
    in_use = np.flatnonzero(doors.in_service & (doors.depot >= 0))
    models = np.array(doors.model_codes)[doors.model[in_use]]
    for part, fits in enumerate(record.parts.fits):
        rows = in_use[np.isin(models, list(fits))] if fits else in_use
        np.add.at(every[part], (doors.depot[rows], pattern[rows]), cycles_per_day[rows])
    patterns = tuple(
        tuple(_steps(record, each, float(day)) for day in doors.depots.day[:-1]) for each in chosen
    )
    return UseAhead(((), *patterns[1:]), fitted, every)


def _pattern_of_door(doors: DoorRows, record: PartsRecord) -> tuple[Ints, list[Ints]]:
    """Which set of changes concerns each door, (n,), and those sets; the first is empty."""
    uses = record.announced.uses
    kinds = np.array([*doors.route_kinds, ""])[doors.route]
    concerns = np.zeros((len(doors) + 1, len(uses)), dtype=bool)
    for k, use in enumerate(uses):
        here = doors.depot == use.depot if use.depot >= 0 else np.ones(len(doors), bool)
        concerns[:-1, k] = here & ((kinds == use.route_kind) if use.route_kind else True)
    # One more row, without a change, so that the empty set is there and comes first.
    sets, which = np.unique(concerns, axis=0, return_inverse=True)
    return which.ravel()[:-1], [np.flatnonzero(row) for row in sets]


def _steps(record: PartsRecord, chosen: Ints, day: float) -> UseSteps:
    uses = [record.announced.uses[k] for k in chosen.tolist()]
    return UseSteps(
        np.array([each.from_day - day for each in uses]),
        np.array([each.until_day - day for each in uses]),
        np.array([each.factor for each in uses]),
    )
