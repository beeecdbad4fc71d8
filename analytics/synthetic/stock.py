"""Stock that the depots hold at the end of the record: mostly enough, some of it low."""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.codes import NOT_A_DATE
from analytics.synthetic.fleet import FleetPlan, Frame
from analytics.synthetic.names import CRITICAL, DOOR_MODELS, Part, depot

CYCLES_PER_DOOR_DAY: Final = 28.0
LOW_SHARE: Final = 0.2


def stock_rows(
    plan: FleetPlan, frame: Frame, parts: tuple[Part, ...]
) -> Mapping[str, NDArray[np.generic]]:
    """On hand, on order and wanted service level of every part at every depot."""
    rng = np.random.default_rng([plan.seed, 3])
    doors = np.bincount(frame.depot_of_door, minlength=frame.depots)
    depot_of, part_of = (axis.ravel() for axis in np.indices((frame.depots, len(parts))))
    share = np.array([len(part.models) / len(DOOR_MODELS) if part.models else 1 for part in parts])
    lead = np.array([part.lead_time_days for part in parts])[part_of]
    between = np.array([part.cycles_between for part in parts])[part_of]
    used = doors[depot_of] * share[part_of] * CYCLES_PER_DOOR_DAY * (lead + 14) / between
    low = rng.random(len(used)) < LOW_SHARE
    # A shelf that is watched holds the use of one lead time and about two standard deviations.
    watched = np.ceil(used + 2.3 * np.sqrt(used)) + rng.poisson(0.4 * used + 0.5)
    on_hand = np.where(low, rng.poisson(used * 0.25), watched)
    ordered = (on_hand < used) & (rng.random(len(used)) < 0.6)
    pack = np.array([part.pack_size for part in parts])[part_of]
    amount = np.ceil(used * 1.2 / pack) * pack
    arrives = np.datetime64(plan.until, "D") + 2 + (rng.random(len(used)) * lead).astype(np.int64)
    critical = np.array([part.component in CRITICAL for part in parts])[part_of]
    return {
        "depot": np.array([depot(d).code for d in range(frame.depots)])[depot_of],
        "part": np.array([part.number for part in parts])[part_of],
        "on_hand": on_hand.astype(np.int64),
        "on_order": np.where(ordered, amount, 0).astype(np.int64),
        "expected_on": np.where(ordered, arrives, NOT_A_DATE),
        "service_level": np.where(critical, 0.98, 0.95),
        "counted_on": np.full(len(used), np.datetime64(plan.until, "D")),
    }


def part_rows(parts: tuple[Part, ...]) -> Mapping[str, NDArray[np.generic]]:
    """The parts catalogue."""
    return {
        "part": np.array([part.number for part in parts]),
        "name": np.array([part.name for part in parts]),
        "component": np.array([part.component for part in parts]),
        "unit_cost": np.array([part.unit_cost for part in parts], dtype=np.float64),
        "currency": np.full(len(parts), "USD"),
        "lead_time_days": np.array([part.lead_time_days for part in parts], dtype=np.float64),
        "lead_time_sd_days": np.array([part.lead_time_sd_days for part in parts], dtype=np.float64),
        "pack_size": np.array([part.pack_size for part in parts]),
        "shelf_life_days": np.array([part.shelf_life_days for part in parts]),
        "fits": np.array(["+".join(part.models) for part in parts]),
        "revision": np.array([part.revision for part in parts]),
        "replaces": np.array([part.replaces for part in parts]),
        "rating": np.array([part.rating for part in parts]),
    }


def model_rows() -> Mapping[str, NDArray[np.generic]]:
    """The door models; the drive band is common practice without a source."""
    many = len(DOOR_MODELS)
    return {
        "door_model": np.array([model.code for model in DOOR_MODELS]),
        "supply_volts": np.array([model.supply_volts for model in DOOR_MODELS], dtype=np.float64),
        "drive_volts": np.full(many, 32.0),
        "drive_volts_low": np.full(many, 31.0),
        "drive_volts_high": np.full(many, 33.0),
        "counter_digits": np.array([model.counter_digits for model in DOOR_MODELS]),
        "counts_per_cycle": np.array([model.counts_per_cycle for model in DOOR_MODELS]),
        "cable_awg": np.array([model.cable_awg for model in DOOR_MODELS]),
        "cable_metres": np.array([model.cable_metres for model in DOOR_MODELS], dtype=np.float64),
        "sensor_offset_mm": np.full(many, 25.0),
        "spring_class_cycles": np.full(many, 50_000),
    }


def depot_rows(depots: int) -> Mapping[str, NDArray[np.generic]]:
    """The depots of the fleet."""
    rows = [depot(number) for number in range(depots)]
    return {
        "depot": np.array([row.code for row in rows]),
        "name": np.array([row.name for row in rows]),
        "timezone": np.array([row.timezone for row in rows]),
        "setting": np.array([row.setting for row in rows]),
        "bay_hours_per_day": np.array([row.bay_hours_per_day for row in rows]),
    }
