"""Parts fitted now, from the record and the doors' derived rows, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from django.db.models import Value
from django.db.models.functions import Coalesce

from analytics.datasets.columns import Floats, Ints
from analytics.models import DoorFigures
from fleetdoors.models import Component, Fitment

NO_PART = -1


@dataclass(frozen=True)
class FittedParts:
    """Positions in use: part id (-1 = not noted), age (nan = unknown), and those of its door.

    Where the age is unknown, `ceiling_cycles` is the most it can have been when the record began
    and `since_cycles` what it has run since.
    """

    serials: tuple[str, ...]
    trucks: tuple[str, ...]
    models: tuple[str, ...]
    positions: tuple[str, ...]
    depot_id: Ints
    part_id: Ints
    age_cycles: Floats
    ceiling_cycles: Floats
    since_cycles: Floats
    cycles_per_day: Floats

    def __len__(self) -> int:
        return len(self.depot_id)

    def chosen(self, rows: Ints) -> FittedParts:
        """Some of them, in the order given."""
        at = rows.tolist()
        return FittedParts(
            serials=tuple(self.serials[k] for k in at),
            trucks=tuple(self.trucks[k] for k in at),
            models=tuple(self.models[k] for k in at),
            positions=tuple(self.positions[k] for k in at),
            depot_id=self.depot_id[rows],
            part_id=self.part_id[rows],
            age_cycles=self.age_cycles[rows],
            ceiling_cycles=self.ceiling_cycles[rows],
            since_cycles=self.since_cycles[rows],
            cycles_per_day=self.cycles_per_day[rows],
        )


def fetch_fitted_parts(component: Component, depot_ids: tuple[int, ...] | None) -> FittedParts:
    """Parts of a component on doors in service at depots in sight; runs two queries."""
    doors = _doors_in_service(depot_ids)
    fitted = (
        Fitment.objects.in_place()
        .filter(component=component)
        .order_by("door__serial", "position")
        .values_list("door_id", "position", "part_id", "fitted_at_cycles")
    )
    rows = [row for row in fitted if row[0] in doors]
    of_door = [doors[row[0]] for row in rows]
    now = np.array([door.cycles_now for door in of_door], dtype=float)
    fitted_at = np.array([np.nan if row[3] is None else row[3] for row in rows], dtype=float)
    opening = np.array([door.opening_cycles for door in of_door], dtype=float)
    return FittedParts(
        serials=tuple(door.serial for door in of_door),
        trucks=tuple(door.truck for door in of_door),
        models=tuple(door.model for door in of_door),
        positions=tuple(row[1] for row in rows),
        depot_id=np.array([door.depot_id for door in of_door], dtype=np.int64),
        part_id=np.array([NO_PART if row[2] is None else row[2] for row in rows], dtype=np.int64),
        age_cycles=np.maximum(now - fitted_at, 0.0),
        ceiling_cycles=opening,
        since_cycles=np.maximum(now - opening, 0.0),
        cycles_per_day=np.array([door.cycles_per_day for door in of_door], dtype=float),
    )


class _Door(NamedTuple):
    """What a fitted part takes from its door."""

    serial: str
    truck: str
    model: str
    depot_id: int
    cycles_now: float
    cycles_per_day: float
    opening_cycles: int


def _doors_in_service(depot_ids: tuple[int, ...] | None) -> dict[int, _Door]:
    """Doors at the depots by id; runs one query."""
    rows = (
        DoorFigures.objects.current()
        .at_depots(depot_ids)
        .filter(in_service=True, depot__isnull=False)
        .order_by()
        .values_list(
            "door_id",
            "door__serial",
            Coalesce("truck__fleet_number", Value("")),
            "door__door_model__code",
            "depot_id",
            Coalesce("cycles_now", "end_cycles"),
            "cycles_per_day",
            "door__opening_cycles",
        )
    )
    return {row[0]: _Door(*row[1:]) for row in rows}
