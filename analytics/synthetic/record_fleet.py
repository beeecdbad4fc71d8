"""Rows of what a block of doors is and what its counters showed."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.codes import NOT_A_DATE, BlockCodes, words
from analytics.synthetic.csvout import UNKNOWN
from analytics.synthetic.doors import MOVED
from analytics.synthetic.names import BODY_MAKE, DOOR_MODELS, OWNER
from analytics.synthetic.scenario import ROUTE_CLASSES

Rows = Mapping[str, NDArray[np.generic]]


def truck_rows(c: BlockCodes) -> Rows:
    """Present trucks, and the disposed first trucks of doors that moved."""
    doors, plan = c.block.doors, c.plan
    rows = np.concatenate([np.arange(len(doors)), c.moved])
    old = np.arange(len(rows)) >= len(doors)
    since = c.record_from() - (doors.age_years * 365).astype(np.int64)
    late_truck = plan.dates(c.moved_day) - 20
    moved = doors.story == MOVED
    bought = np.where(moved[rows] & ~old, late_truck[rows], since[rows])
    return {
        "truck": np.where(old, c.first_truck[rows], c.truck[rows]),
        "depot": c.depot[rows],
        "route_kind": words([kind.name for kind in ROUTE_CLASSES], doors.route[rows]),
        "make": np.full(len(rows), BODY_MAKE),
        "serial_number": np.char.add(
            "INVENTED-", np.where(old, c.first_truck[rows], c.truck[rows])
        ),
        "model_year": bought.astype("datetime64[Y]").astype(np.int64) + 1970,
        "tire_size": words(["225/70R19.5", "245/70R19.5"], doors.model[rows] % 2),
        "owner": np.full(len(rows), OWNER),
        "in_service_on": bought,
        "disposed_on": np.where(old, plan.dates(c.moved_day)[rows] + 30, NOT_A_DATE),
    }


def door_rows(c: BlockCodes) -> Rows:
    doors, plan = c.block.doors, c.plan
    mounted = np.where(doors.story == MOVED, plan.dates(c.moved_day), c.record_from())
    return {
        "door": c.door,
        "door_model": words([model.code for model in DOOR_MODELS], doors.model),
        "truck": c.truck,
        "mounted_on": mounted,
        "opening_cycles": c.block.usage.cycles[:, 0],
        "record_from": c.record_from(),
        "retired_on": np.where(doors.end_day < plan.days, plan.dates(doors.end_day), NOT_A_DATE),
    }


def mounting_rows(c: BlockCodes) -> Rows:
    """Both mountings of every door that moved."""
    rows = np.repeat(c.moved, 2)
    first = np.arange(len(rows)) % 2 == 0
    change = c.plan.dates(c.moved_day)[rows]
    return {
        "door": c.door[rows],
        "truck": np.where(first, c.first_truck[rows], c.truck[rows]),
        "mounted_on": np.where(first, c.record_from()[rows], change),
        "removed_on": np.where(first, change, NOT_A_DATE),
    }


def lay_up_rows(c: BlockCodes) -> Rows:
    """Most of the longer idle spells, as somebody wrote them down."""
    doors, plan, spells = c.block.doors, c.plan, c.block.usage.idle_spells
    stop = spells.value.astype(np.int64)
    kept = (stop - spells.day >= 7) & (c.rng.random(len(stop)) < 0.6)
    kept &= (spells.day >= doors.start_day[spells.door]) & (spells.day < plan.days)
    kept &= stop <= doors.end_day[spells.door]
    door, start, stop = spells.door[kept], spells.day[kept], stop[kept]
    then = (doors.story[door] == MOVED) & (start < c.moved_day[door])
    reasons = ["body repair", "engine repair", "spare truck", "waiting for parts"]
    return {
        "truck": np.where(then, c.first_truck[door], c.truck[door]),
        "from_on": plan.dates(start),
        "until_on": np.where(stop <= plan.days, plan.dates(stop - 1), NOT_A_DATE),
        "reason": words(reasons, c.rng.integers(0, len(reasons), len(door))),
    }


def counter_rows(c: BlockCodes) -> Rows:
    """One row for each counter of doors whose exchange was recorded."""
    block, plan = c.block, c.plan
    known = block.exchanges.where(block.exchanges.recorded)
    doors = np.unique(known.door)
    door = np.concatenate([doors, known.door])
    day = np.concatenate([np.full(len(doors), UNKNOWN), known.day])
    opening = block.usage.cycles[doors, 0] * block.counters.counts_per_cycle[doors]
    first = np.concatenate([opening % block.counters.modulus[doors], known.first_value])
    order = np.lexsort((day, door))
    door, day, first = door[order], day[order], first[order]
    ended = np.append(door[1:] == door[:-1], False)
    change = np.where(ended, np.roll(day, -1), plan.days)
    began = np.where(day < 0, 0, day)
    counted = block.usage.cycles[door, change] - block.usage.cycles[door, began]
    last = (first + counted * block.counters.counts_per_cycle[door]) % block.counters.modulus[door]
    serial = np.arange(len(door)) - np.searchsorted(door, door) + 1
    return {
        "door": c.door[door],
        "counter": np.char.add(np.char.add(c.door[door], "-C"), serial.astype(str)),
        "fitted_on": np.where(day < 0, c.record_from()[door], plan.dates(day)),
        "first_value": first,
        "removed_on": np.where(ended, plan.dates(change), NOT_A_DATE),
        "last_value": np.where(ended, last, UNKNOWN),
    }


def reading_rows(c: BlockCodes) -> Rows:
    taken = c.block.readings
    readers = ["yard 1", "yard 2", "tech 1", "tech 2", "tech 3"]
    return {
        "door": c.door[taken.door],
        "read_at": c.plan.moments(taken.day, taken.minute),
        "counter_value": taken.shown,
        "read_by": words(readers, c.rng.integers(0, len(readers), len(taken))),
        "source": np.full(len(taken), "hand"),
    }
