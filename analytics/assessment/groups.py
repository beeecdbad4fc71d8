"""Failures and cycles by group of doors or by component."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np

from analytics.assessment.exposure import Exposure
from analytics.assessment.usage import UsageFound
from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.exposure import cycles_at
from analytics.kernel.mcbf import McbfEstimates, estimate_mcbf
from analytics.kernel.recurrence import RepairHistories

FLEET, DEPOT, DOOR_MODEL, ROUTE_KIND, COMPONENT, DOOR = (
    "fleet", "depot", "door_model", "route_kind", "component", "door",
)  # fmt: skip
GROUPINGS = (FLEET, DEPOT, DOOR_MODEL, ROUTE_KIND, COMPONENT, DOOR)


@dataclass(frozen=True)
class Windows:
    """Windows of the doors (n,), and the failures within them: door, cycles, component id."""

    start_cycles: Floats
    end_cycles: Floats
    failure_door: Ints
    failure_cycles: Floats
    failure_component: Ints


@dataclass(frozen=True)
class Group:
    """A group's name (None = not known), its doors, and which failures count for it."""

    name: str | None
    doors: Ints
    failures: Ints


def windows_since(
    fleet: Fleet, found: UsageFound, exposure: Exposure, since: date | None
) -> Windows:
    """The doors' windows and failures, from a day on if one is given."""
    faults, start = fleet.faults, exposure.start_cycles.copy()
    counted = faults.is_failure.copy()
    if since is not None:
        day = float((since - EPOCH_DATE).days)
        doors = np.arange(len(fleet.doors))
        at_since = cycles_at(found.series, doors, np.full(len(doors), day)).cycles
        start = np.fmax(start, at_since)
        counted &= faults.day >= day
    rows = np.flatnonzero(counted)
    np.minimum.at(start, faults.door[rows], exposure.fault_cycles[rows])
    return Windows(
        start_cycles=start,
        end_cycles=np.maximum(exposure.end_cycles, start),
        failure_door=faults.door[rows],
        failure_cycles=exposure.fault_cycles[rows],
        failure_component=faults.component_id[rows],
    )


def grouped(fleet: Fleet, windows: Windows, by: str, component_id: int | None) -> list[Group]:
    """The groups of doors, with the failures of one component or of all."""
    rows = np.arange(len(windows.failure_door))
    if component_id is not None:
        rows = rows[windows.failure_component == component_id]
    if by == COMPONENT:
        return _by_component(fleet, windows, rows, component_id)
    names, group = _GROUP_OF[by](fleet)
    order = np.argsort(group, kind="stable")
    cuts = np.searchsorted(group[order], np.arange(-1, len(names) + 1))
    own = group[windows.failure_door[rows]]
    failure_order = np.argsort(own, kind="stable")
    failure_cuts = np.searchsorted(own[failure_order], np.arange(-1, len(names) + 1))
    found = []
    for k, name in enumerate((None, *names)):
        doors = order[cuts[k] : cuts[k + 1]]
        if len(doors):
            failures = rows[failure_order[failure_cuts[k] : failure_cuts[k + 1]]]
            found.append(Group(name, doors, failures))
    return [*found[1:], found[0]] if found and found[0].name is None else found


def _by_component(
    fleet: Fleet, windows: Windows, rows: Ints, component_id: int | None
) -> list[Group]:
    """Every component with a fault or a fitted part on record; each over all doors."""
    known = fleet.components
    seen: Flags = np.isin(known.ids, fleet.fitments.component_id)
    seen |= np.isin(known.ids, fleet.faults.component_id)
    if component_id is not None:
        seen = known.ids == component_id
    every = np.arange(len(fleet.doors))
    own = windows.failure_component[rows]
    found = [
        Group(known.codes[k], every, rows[own == known.ids[k]])
        for k in np.flatnonzero(seen).tolist()
    ]
    unnamed = rows[own < 0]
    return [*found, Group(None, every, unnamed)] if len(unnamed) else found


def mcbf_of(windows: Windows, groups: list[Group], confidence: float) -> McbfEstimates:
    """Mean cycles between failures of each group, with exact bounds."""
    length = windows.end_cycles - windows.start_cycles
    cycles = np.array([length[group.doors].sum() for group in groups])
    failures = np.array([len(group.failures) for group in groups], dtype=np.int64)
    return estimate_mcbf(cycles, failures, confidence)


def histories_of(windows: Windows, group: Group) -> RepairHistories:
    """A group's windows and failures as the kernel takes them."""
    place = np.full(len(windows.start_cycles), -1)
    place[group.doors] = np.arange(len(group.doors))
    return RepairHistories.from_columns(
        windows.start_cycles[group.doors],
        windows.end_cycles[group.doors],
        place[windows.failure_door[group.failures]],
        windows.failure_cycles[group.failures],
    )


Grouping = tuple[tuple[str, ...], Ints]
_GROUP_OF: dict[str, Callable[[Fleet], Grouping]] = {
    FLEET: lambda fleet: (("fleet",), np.zeros(len(fleet.doors), np.int64)),
    DEPOT: lambda fleet: (fleet.doors.depots.codes[:-1], fleet.doors.depot),
    DOOR_MODEL: lambda fleet: (fleet.doors.model_codes, fleet.doors.model),
    ROUTE_KIND: lambda fleet: (fleet.doors.route_kinds, fleet.doors.route),
    DOOR: lambda fleet: (fleet.doors.serials, np.arange(len(fleet.doors))),
}
