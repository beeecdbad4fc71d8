"""The catalogue as arrays: components, tasks with their factors, parts. Taken as it is today."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Flags, Floats, Ints
from fleetdoors.models import Component, Duty, MaintenanceTask, Part, Setting, SeverityFactor

CONDITIONS: tuple[str, ...] = (
    *(word for word in Setting.values if word != Setting.NORMAL),
    *Duty.values,
)


@dataclass(frozen=True)
class Components:
    """Components by code."""

    ids: Ints
    codes: tuple[str, ...]
    kinds: tuple[str, ...]


@dataclass(frozen=True)
class Tasks:
    """Preventive tasks by code; `contains[i, j]`: doing task i also does task j (or is it)."""

    ids: Ints
    codes: tuple[str, ...]
    interval_cycles: Floats
    interval_days: Floats
    spring_class_share: Floats
    window_before: Floats
    window_after: Floats
    listed: Flags
    contains: Flags
    factors: Floats

    def __len__(self) -> int:
        return len(self.ids)


@dataclass(frozen=True)
class Parts:
    """Parts by number; `newest` is the row that supersession leads to.

    `revision` counts the parts that a part came after: 0 where it replaces none.
    """

    ids: Ints
    numbers: tuple[str, ...]
    component_id: Ints
    lead_time_days: Floats
    lead_time_sd_days: Floats
    pack_size: Ints
    newest: Ints
    revision: Ints
    fits: tuple[frozenset[str], ...]

    def index_of(self, ids: Ints) -> Ints:
        """Row of each part id; -1 where it is unknown."""
        place = {each: k for k, each in enumerate(self.ids.tolist())}
        return np.array([place.get(each, -1) for each in ids.tolist()], dtype=np.int64)


def fetch_components() -> Components:
    """Every component; runs one query."""
    rows = list(Component.objects.order_by("code").values_list("id", "code", "kind"))
    return Components(
        ids=np.array([row[0] for row in rows], dtype=np.int64),
        codes=tuple(row[1] for row in rows),
        kinds=tuple(row[2] for row in rows),
    )


def fetch_tasks() -> Tasks:
    """Every preventive task with its factors; runs three queries."""
    rows = list(MaintenanceTask.objects.order_by("code"))
    place = {row.pk: k for k, row in enumerate(rows)}

    def numbers(name: str) -> Floats:
        return np.array([getattr(row, name) for row in rows], dtype=float)

    return Tasks(
        ids=np.array([row.pk for row in rows], dtype=np.int64),
        codes=tuple(row.code for row in rows),
        interval_cycles=numbers("interval_cycles"),
        interval_days=numbers("interval_days"),
        spring_class_share=numbers("spring_class_share"),
        window_before=numbers("window_before_percent") / 100,
        window_after=numbers("window_after_percent") / 100,
        listed=np.array([row.is_on_due_lists for row in rows], dtype=bool),
        contains=_contained(place),
        factors=_factors(place),
    )


def _contained(place: dict[int, int]) -> Flags:
    """Which tasks each one does, itself and those inside the contained ones as well."""
    pairs = MaintenanceTask.contains.through.objects.values_list(
        "from_maintenancetask_id", "to_maintenancetask_id"
    )
    reach = np.eye(len(place), dtype=bool)
    for outer, inner in pairs:
        reach[place[outer], place[inner]] = True
    while True:
        further = reach @ reach
        if (further == reach).all():
            return reach
        reach = further


def _factors(place: dict[int, int]) -> Floats:
    """Factor by task and condition, 1 where none is set."""
    found = np.ones((len(place), len(CONDITIONS)))
    rows = SeverityFactor.objects.values_list("task_id", "condition", "factor")
    for task, condition, factor in rows:
        if condition in CONDITIONS:
            found[place[task], CONDITIONS.index(condition)] = factor
    return found


def fetch_parts() -> Parts:
    """Every part; runs two queries."""
    rows = list(Part.objects.order_by("part_number"))
    fits: dict[int, set[str]] = {}
    for part, model in Part.fits.through.objects.values_list("part_id", "doormodel__code"):
        fits.setdefault(part, set()).add(model)

    def numbers(name: str) -> Floats:
        return np.array([getattr(row, name) for row in rows], dtype=float)

    return Parts(
        ids=np.array([row.pk for row in rows], dtype=np.int64),
        numbers=tuple(row.part_number for row in rows),
        component_id=np.nan_to_num(numbers("component_id"), nan=-1.0).astype(np.int64),
        lead_time_days=numbers("lead_time_days"),
        lead_time_sd_days=numbers("lead_time_sd_days"),
        pack_size=numbers("pack_size").astype(np.int64),
        newest=_newest(rows),
        revision=_revision(rows),
        fits=tuple(frozenset(fits.get(row.pk, ())) for row in rows),
    )


def _newest(rows: list[Part]) -> Ints:
    """Follow each part to what replaces it at last; of several, the one last by number."""
    place = {row.pk: k for k, row in enumerate(rows)}
    after = {place[row.replaces_id]: k for k, row in enumerate(rows) if row.replaces_id in place}
    newest = np.arange(len(rows))
    for k in range(len(rows)):
        at, seen = k, {k}
        while at in after and after[at] not in seen:
            at = after[at]
            seen.add(at)
        newest[k] = at
    return newest


def _revision(rows: list[Part]) -> Ints:
    """How many parts each one came after; a circle ends where it closes."""
    before = {row.pk: row.replaces_id for row in rows}
    found = np.zeros(len(rows), dtype=np.int64)
    for k, row in enumerate(rows):
        at, seen = before[row.pk], {row.pk}
        while at in before and at not in seen:
            seen.add(at)
            at = before[at]
        found[k] = len(seen) - 1
    return found
