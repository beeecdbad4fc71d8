"""What the score needs beside the rest of the record: outcomes of faults, holds, prices."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import CodeOf, EpochSeconds, Flags, Floats, Ints, fetch_table
from analytics.datasets.doors import DoorRows
from analytics.datasets.events import fetch_known
from analytics.datasets.labour import usual_currency
from analytics.kernel.effective_days import LayUps
from fleetdoors.models import DoorModel, MaintenanceTask, Part, Performer
from inspections.codes import Action, DetectedBy
from inspections.models import Fault, RoadHold


@dataclass(frozen=True)
class Outcomes:
    """Faults: door row, wall-clock day, component id (-1 = none), and what became of them."""

    door: Ints
    day: Floats
    epoch: Ints
    component_id: Ints
    answered: Flags
    none_found: Flags
    at_preventive: Flags


@dataclass(frozen=True)
class Prices:
    """Price of each part id in one currency; parts without a price, or in another, are missing."""

    currency: str
    by_part: dict[int, float]


def fetch_outcomes(doors: DoorRows) -> tuple[Outcomes, LayUps]:
    """Faults of the doors, and spells off the road by faults and by holds; runs two queries."""
    said = CodeOf(
        When(action="", then=Value(0)),
        When(action=Action.NONE_FOUND, then=Value(2)),
        default=Value(1),
    )
    at_work = (DetectedBy.PREVENTIVE, DetectedBy.INSPECTION)
    rows = fetch_known(
        Fault.objects.all(),
        "found_at",
        doors,
        {
            "component": ("component_id", np.float64),
            "said": (said, np.int8),
            "at_work": (CodeOf(When(detected_by__in=at_work, then=Value(1)), default=Value(0)),
                        np.int8),
            "off_from": (EpochSeconds("off_road_from"), np.float64),
            "off_until": (EpochSeconds("off_road_until"), np.float64),
        },
    )  # fmt: skip
    door = np.ascontiguousarray(rows["door"])
    off = np.flatnonzero(~np.isnan(rows["off_from"]))
    found = Outcomes(
        door=door,
        day=doors.wall_days(door, rows["epoch"]),
        epoch=np.ascontiguousarray(rows["epoch"]),
        component_id=np.nan_to_num(rows["component"], nan=-1.0).astype(np.int64),
        answered=rows["said"] > 0,
        none_found=rows["said"] == 2,
        at_preventive=rows["at_work"] == 1,
    )
    holds = _holds(doors)
    return found, LayUps(
        np.concatenate((door[off], holds.door)),
        np.concatenate((_wall(doors, door[off], rows["off_from"][off]), holds.from_day)),
        np.concatenate((_wall(doors, door[off], rows["off_until"][off]), holds.until_day)),
    )


def _holds(doors: DoorRows) -> LayUps:
    rows = fetch_table(
        RoadHold.objects.all(),
        {
            "door": ("door_id", np.int64),
            "from": (EpochSeconds("placed_at"), np.float64),
            "until": (EpochSeconds("lifted_at"), np.float64),
            "entered": (EpochSeconds("entered_at"), np.float64),
        },
    )
    door = doors.index_of(rows["door"])
    kept = (
        (door >= 0) & (rows["from"] < doors.moment[door]) & (rows["entered"] < doors.moment[door])
    )
    rows, door = rows[kept], door[kept]
    return LayUps(door, _wall(doors, door, rows["from"]), _wall(doors, door, rows["until"]))


def _wall(doors: DoorRows, door: Ints, epoch: Floats) -> Floats:
    """Wall-clock days of moments; nan stays nan."""
    known = ~np.isnan(epoch)
    found = np.full(len(epoch), np.nan)
    found[known] = doors.wall_days(door[known], epoch[known].astype(np.int64))
    return found


def fetch_prices() -> Prices:
    """What parts cost in the currency most of them are priced in; runs one query.

    Where no part has a price, or prices name no currency, it is that of what work costs.
    """
    rows = list(Part.objects.filter(unit_cost__isnull=False).order_by("pk").values_list(
        "pk", "unit_cost", "currency"))  # fmt: skip
    usual = Counter(row[2] for row in rows).most_common(1)
    named = usual[0][0] if usual else ""
    prices = {row[0]: float(row[1] or 0) for row in rows if row[2] == named}
    return Prices(named or usual_currency(), prices)


def fetch_model_ids(doors: DoorRows) -> Ints:
    """Database ids of the doors' models, in the order of their codes; runs one query."""
    known = dict(DoorModel.objects.values_list("code", "pk"))
    return np.array([known[code] for code in doors.model_codes], dtype=np.int64)


def fetch_driver_tasks() -> Flags:
    """Which tasks, by code, a driver does; runs one query."""
    performers = MaintenanceTask.objects.order_by("code").values_list("performer", flat=True)
    return np.array([each == Performer.DRIVER for each in performers], dtype=bool)
