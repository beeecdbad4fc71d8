"""Derived rows into arrays: the doors' windows and the failures within them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import IntegerField, Value
from django.db.models.functions import Cast, NullIf, Substr

from analytics.datasets.columns import EpochSeconds, Floats, Ints, column, fetch_table
from analytics.models import DoorFailure, DoorFigures
from inspections.models import Fault

NO_COMPONENT = -1
_HOUR = 3600.0


@dataclass(frozen=True)
class WindowRows:
    """Doors with what they are called and grouped by (empty = not known), and their windows."""

    ids: Ints
    serials: tuple[str, ...]
    trucks: tuple[str, ...]
    depots: tuple[str, ...]
    models: tuple[str, ...]
    routes: tuple[str, ...]
    start_cycles: Floats
    end_cycles: Floats

    def __len__(self) -> int:
        return len(self.ids)


@dataclass(frozen=True)
class FailureRows:
    """Failures: row of the door, cycles, component id (-1 = not noted), day, mode, hours off."""

    door: Ints
    at_cycles: Floats
    component_id: Ints
    day: Floats
    mode: tuple[str, ...]
    off_road_hours: Floats

    def __len__(self) -> int:
        return len(self.door)


def fetch_window_rows(depot_ids: tuple[int, ...] | None) -> WindowRows:
    """Every door of the depots, as the shown run worked it out; runs one query."""
    rows = (
        DoorFigures.objects.current()
        .at_depots(depot_ids)
        .order_by("door__serial")
        .values_list(
            "door_id",
            "door__serial",
            "truck__fleet_number",
            "depot__name",
            "depot__code",
            "door__door_model__code",
            "truck__route_kind",
            "start_cycles",
            "end_cycles",
        )
    )
    table = list(rows)
    return WindowRows(
        ids=np.array([row[0] for row in table], dtype=np.int64),
        serials=tuple(row[1] for row in table),
        trucks=tuple(row[2] or "" for row in table),
        depots=depot_labels([(row[3], row[4]) for row in table]),
        models=tuple(row[5] or "" for row in table),
        routes=tuple(row[6] or "" for row in table),
        start_cycles=np.array([row[7] for row in table], dtype=float),
        end_cycles=np.array([row[8] for row in table], dtype=float),
    )


def depot_labels(pairs: list[tuple[str | None, str | None]]) -> tuple[str, ...]:
    """Names of depots, with the code beside a name that two of them have; empty without depot."""
    codes: dict[str, set[str]] = {}
    for name, code in pairs:
        codes.setdefault(name or code or "", set()).add(code or "")
    return tuple(
        f"{name} ({code})" if name and len(codes[name]) > 1 else name or code or ""
        for name, code in pairs
    )


def fetch_failure_rows(doors: WindowRows, depot_ids: tuple[int, ...] | None) -> FailureRows:
    """Every failure of the doors, as they were found; runs one query."""
    place = {door: k for k, door in enumerate(doors.ids.tolist())}
    found = DoorFailure.objects.current().at_depots(depot_ids).in_order()
    columns = found.values_list(
        "door_id",
        "at_cycles",
        "component_id",
        "day",
        "fault__mode",
        EpochSeconds("fault__off_road_from"),
        EpochSeconds("fault__off_road_until"),
    )
    table: list[tuple[Any, ...]] = [row for row in columns if row[0] in place]
    # Seconds, as parsing moments would take most of the time; nan where one was not noted.
    since, until = (np.array([row[k] for row in table], dtype=float) for k in (5, 6))
    return FailureRows(
        door=np.array([place[row[0]] for row in table], dtype=np.int64),
        at_cycles=np.array([row[1] for row in table], dtype=float),
        component_id=np.array(
            [NO_COMPONENT if row[2] is None else row[2] for row in table], dtype=np.int64
        ),
        day=np.array([row[3] for row in table], dtype=float),
        mode=tuple(row[4] or "" for row in table),
        off_road_hours=(until - since) / _HOUR,
    )


@dataclass(frozen=True)
class FaultModes:
    """How faults failed, by id: mode (empty = not noted) and hours off the road (nan = same)."""

    ids: Ints
    mode: tuple[str, ...]
    off_road_hours: Floats


def fetch_fault_modes() -> FaultModes:
    """Every fault that is a failure, by id; runs one query."""
    # The number in a code such as FM07: whole columns of numbers are fetched far faster.
    code = Cast(NullIf(Substr("mode", 3), Value("")), IntegerField())
    table = fetch_table(
        Fault.objects.filter(is_failure=True),
        {
            "id": ("pk", np.int64),
            "mode": (code, np.float64),
            "since": (EpochSeconds("off_road_from"), np.float64),
            "until": (EpochSeconds("off_road_until"), np.float64),
        },
    )
    table = table[np.argsort(table["id"])]
    numbers = np.nan_to_num(table["mode"]).astype(np.int64)
    names = np.array(["", *(f"FM{k:02d}" for k in range(1, int(numbers.max(initial=0)) + 1))])
    return FaultModes(
        column(table, "id"),
        tuple(names[numbers].tolist()),
        (table["until"] - table["since"]) / _HOUR,
    )
