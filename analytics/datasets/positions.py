"""Parts fitted now, from the record and the doors' derived rows, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
    doors = {
        row[0]: row
        for row in DoorFigures.objects.current()
        .at_depots(depot_ids)
        .filter(in_service=True, depot__isnull=False)
        .order_by()
        .values_list(
            "door_id",
            "door__serial",
            "truck__fleet_number",
            "door__door_model__code",
            "depot_id",
            "cycles_now",
            "end_cycles",
            "cycles_per_day",
            "door__opening_cycles",
        )
    }
    fitted = (
        Fitment.objects.filter(component=component, removal="")
        .order_by("door__serial", "position")
        .values_list("door_id", "position", "part_id", "fitted_at_cycles")
    )
    rows = [
        (doors[door], position, part, at) for door, position, part, at in fitted if door in doors
    ]
    now = np.array([row[5] if row[5] is not None else row[6] for row, *_rest in rows], dtype=float)
    fitted_at = np.array([np.nan if at is None else at for *_rest, at in rows], dtype=float)
    opening = np.array([row[8] for row, *_rest in rows], dtype=float)
    return FittedParts(
        serials=tuple(row[1] for row, *_rest in rows),
        trucks=tuple(row[2] or "" for row, *_rest in rows),
        models=tuple(row[3] for row, *_rest in rows),
        positions=tuple(position for _row, position, *_rest in rows),
        depot_id=np.array([row[4] for row, *_rest in rows], dtype=np.int64),
        part_id=np.array(
            [NO_PART if part is None else part for _row, _position, part, _at in rows],
            dtype=np.int64,
        ),
        age_cycles=np.maximum(now - fitted_at, 0.0),
        ceiling_cycles=opening,
        since_cycles=np.maximum(now - opening, 0.0),
        cycles_per_day=np.array([row[7] for row, *_rest in rows], dtype=float),
    )
