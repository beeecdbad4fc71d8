"""Measurements as arrays, each with the limits that were kept with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import CodeOf, Column, Flags, Floats, Ints, Table, column
from analytics.datasets.doors import DoorRows
from analytics.datasets.events import fetch_known
from inspections.models import InspectionKind, Judgement, Measurement
from inspections.quantities import QUANTITIES

QUANTITY_CODES = tuple(QUANTITIES)
JUDGEMENTS = tuple(Judgement)


@dataclass(frozen=True)
class MeasurementRows:
    """Measurements door after door in order of time; nan = not noted, or no limit on that side.

    `quantity` is a row of `QUANTITY_CODES`, `judgement` of `JUDGEMENTS`, `inspection` -1 = none.
    """

    ids: Ints
    door: Ints
    epoch: Ints
    day: Floats
    quantity: Ints
    inspection: Ints
    is_when_new: Flags
    value: Floats
    at_cycles: Floats
    amps: Floats
    celsius: Floats
    engine_running: Flags
    limit_low: Floats
    near_low: Floats
    near_high: Floats
    limit_high: Floats
    judgement: Ints

    def __len__(self) -> int:
        return len(self.ids)

    def of(self, code: str) -> Ints:
        """Rows of one quantity, the earliest first."""
        return np.flatnonzero(self.quantity == QUANTITY_CODES.index(code))


def fetch_measurements(doors: DoorRows) -> MeasurementRows:
    """Measurements of the doors that were known at `as_of`; runs one query."""
    rows = fetch_known(Measurement.objects.all(), "measured_at", doors, _columns())
    rows = rows[np.lexsort((rows["id"], rows["epoch"], rows["door"]))]
    return _arrays(doors, rows)


def _columns() -> dict[str, Column]:
    quantity = CodeOf(
        *(When(quantity=code, then=Value(row)) for row, code in enumerate(QUANTITY_CODES)),
        default=Value(-1),
    )
    judgement = CodeOf(
        *(When(judgement=word, then=Value(row)) for row, word in enumerate(JUDGEMENTS)),
        default=Value(-1),
    )
    when_new = CodeOf(
        When(inspection__kind=InspectionKind.COMMISSIONING, then=Value(1)), default=Value(0)
    )
    numbers = ("value", "at_cycles", "amps", "celsius")
    limits = ("limit_low", "near_low", "near_high", "limit_high")
    return {
        "id": ("pk", np.int64),
        "quantity": (quantity, np.int64),
        "judgement": (judgement, np.int64),
        "inspection": ("inspection_id", np.float64),
        "when_new": (when_new, np.int8),
        "engine": ("engine_running", np.int8),
        **{name: (name, np.float64) for name in (*numbers, *limits)},
    }


def _arrays(doors: DoorRows, rows: Table) -> MeasurementRows:
    door = column(rows, "door")
    return MeasurementRows(
        ids=column(rows, "id"),
        door=door,
        epoch=column(rows, "epoch"),
        day=doors.wall_days(door, rows["epoch"]),
        quantity=column(rows, "quantity"),
        inspection=np.nan_to_num(rows["inspection"], nan=-1.0).astype(np.int64),
        is_when_new=rows["when_new"] == 1,
        value=column(rows, "value"),
        at_cycles=column(rows, "at_cycles"),
        amps=column(rows, "amps"),
        celsius=column(rows, "celsius"),
        engine_running=rows["engine"] == 1,
        limit_low=column(rows, "limit_low"),
        near_low=column(rows, "near_low"),
        near_high=column(rows, "near_high"),
        limit_high=column(rows, "limit_high"),
        judgement=column(rows, "judgement"),
    )
