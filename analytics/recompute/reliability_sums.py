"""The reliability page's figures of very many doors, worked out beforehand and kept."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np

from analytics.assessment.periods import GroupUse
from analytics.assessment.reliability import reliability_of
from analytics.assessment.reliability_json import to_json
from analytics.assessment.whole import DoorsFound
from analytics.datasets.columns import Flags
from analytics.datasets.doors import DoorRows
from analytics.datasets.period_use import PeriodUseRows
from analytics.datasets.reliability import ReliabilityRows
from analytics.datasets.windows import FailureRows, WindowRows, depot_labels, fetch_fault_modes
from analytics.models.reliability_sums import DOORS_FOR_STORED_SUMS, key_of
from analytics.recompute.store import Columns
from fleetdoors.models import Component, Depot, User

Depots = tuple[int, ...] | None


def sums_columns(generation_id: int, found: DoorsFound, use: GroupUse) -> Iterator[Columns]:
    """One row per component for each set of depots that has very many doors, set after set."""
    if len(found.fleet.doors) < DOORS_FOR_STORED_SUMS:
        return
    whole = _whole(found, use)
    components = [None, *Component.objects.order_by("pk").values_list("pk", flat=True)]
    for depots in _sets_of_depots():
        rows = whole if depots is None else _of_depots(whole, found.fleet.doors, use, depots)
        if len(rows.doors) >= DOORS_FOR_STORED_SUMS:
            yield {
                "generation": [generation_id] * len(components),
                "depots": [key_of(depots)] * len(components),
                "component": components,
                "doors_changed": [0] * len(components),
                "figures": [json.dumps(to_json(reliability_of(rows, each))) for each in components],
            }


def _sets_of_depots() -> list[Depots]:
    """Every depot, each depot, and the depots to which somebody is limited."""
    depots: list[int] = list(Depot.objects.order_by("pk").values_list("pk", flat=True))
    limits: dict[int, list[int]] = {}
    pairs = User.depots.through.objects.order_by("depot_id").values_list("user_id", "depot_id")
    for person, depot in pairs:
        limits.setdefault(person, []).append(depot)
    sets = {(depot,) for depot in depots} | {tuple(each) for each in limits.values()}
    return [None, *sorted(sets)]


def _whole(found: DoorsFound, use: GroupUse) -> ReliabilityRows:
    """The rows that the page would fetch, from the arrays that they are written from."""
    doors = found.fleet.doors
    label = _labels(doors)
    return ReliabilityRows(
        doors=WindowRows(
            ids=doors.ids,
            serials=doors.serials,
            trucks=tuple(doors.trucks.numbers[k] for k in doors.truck.tolist()),
            depots=tuple(label[k] for k in doors.depot.tolist()),
            models=tuple(doors.model_codes[k] for k in doors.model.tolist()),
            routes=_routes(doors, doors.route),
            start_cycles=found.exposure.start_cycles,
            end_cycles=found.exposure.end_cycles,
        ),
        failures=_failures(found),
        uses=PeriodUseRows(
            first_day=use.first_day,
            depots=tuple(label[k] for k in use.depot.tolist()),
            models=tuple(doors.model_codes[k] for k in use.model.tolist()),
            routes=_routes(doors, use.route),
            cycles=use.cycles,
        ),
    )


def _labels(doors: DoorRows) -> list[str]:
    """What pages call each depot by its row, the last for none; runs one query."""
    names = dict(Depot.objects.values_list("pk", "name"))
    present = np.unique(doors.depot[doors.depot >= 0]).tolist()
    pairs = [(names[int(doors.depots.ids[k])], doors.depots.codes[k]) for k in present]
    label = [""] * (len(doors.depots) + 1)
    for k, words in zip(present, depot_labels([*pairs]), strict=True):
        label[k] = words
    return label


def _routes(doors: DoorRows, route: np.ndarray) -> tuple[str, ...]:
    return tuple(doors.route_kinds[k] if k >= 0 else "" for k in route.tolist())


def _failures(found: DoorsFound) -> FailureRows:
    """The failures by the day on which they were found; runs one query."""
    faults = found.fleet.faults
    rows = np.flatnonzero(faults.is_failure)
    rows = rows[np.lexsort((faults.ids[rows], faults.day[rows]))]
    noted = fetch_fault_modes()
    at = np.minimum(np.searchsorted(noted.ids, faults.ids[rows]), len(noted.ids) - 1)
    return FailureRows(
        door=faults.door[rows],
        at_cycles=found.exposure.fault_cycles[rows],
        component_id=faults.component_id[rows],
        day=faults.day[rows],
        mode=tuple(np.array(noted.mode, dtype=object)[at].tolist()),
        off_road_hours=noted.off_road_hours[at],
    )


def _of_depots(
    whole: ReliabilityRows, doors: DoorRows, use: GroupUse, depots: tuple[int, ...]
) -> ReliabilityRows:
    """The rows of some depots, doors numbered anew."""
    rows_of = np.flatnonzero(np.isin(doors.depots.ids, depots))
    chosen, used = np.isin(doors.depot, rows_of), np.isin(use.depot, rows_of)
    return ReliabilityRows(
        doors=_doors_of(whole.doors, chosen),
        failures=_failures_of(whole.failures, chosen),
        uses=PeriodUseRows(
            whole.uses.first_day,
            _kept(whole.uses.depots, used),
            _kept(whole.uses.models, used),
            _kept(whole.uses.routes, used),
            whole.uses.cycles[used],
        ),
    )


def _doors_of(doors: WindowRows, chosen: Flags) -> WindowRows:
    return WindowRows(
        doors.ids[chosen],
        _kept(doors.serials, chosen),
        _kept(doors.trucks, chosen),
        _kept(doors.depots, chosen),
        _kept(doors.models, chosen),
        _kept(doors.routes, chosen),
        doors.start_cycles[chosen],
        doors.end_cycles[chosen],
    )


def _failures_of(failures: FailureRows, chosen: Flags) -> FailureRows:
    place, kept = np.cumsum(chosen) - 1, chosen[failures.door]
    return FailureRows(
        place[failures.door[kept]],
        failures.at_cycles[kept],
        failures.component_id[kept],
        failures.day[kept],
        _kept(failures.mode, kept),
        failures.off_road_hours[kept],
    )


def _kept(words: tuple[str, ...], chosen: Flags) -> tuple[str, ...]:
    return tuple(words[k] for k in np.flatnonzero(chosen).tolist())
