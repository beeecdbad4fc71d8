"""What is really so of a made fleet, recorded or not, and what happens after the record ends."""

from collections.abc import Mapping
from math import isinf, nan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.codes import NOT_A_DATE, BlockCodes, words
from analytics.synthetic.components import ENDS
from analytics.synthetic.csvout import UNKNOWN
from analytics.synthetic.doors import STORIES
from analytics.synthetic.fleet import FleetPlan, Frame
from analytics.synthetic.names import depot
from analytics.synthetic.readings import CAUSES, EXCHANGE, ROLLOVER
from analytics.synthetic.record_work import part_used_rows
from analytics.synthetic.scenario import ROUTE_CLASSES

Rows = Mapping[str, NDArray[np.generic]]

README: Final = """What is really so of this made fleet. All names and data are invented.
No programme may read this folder to make its figures: it is here to check them against.

plan.csv               what the fleet was made from
components.csv         true Weibull shape and scale (cycles) of every position
doors.csv              true hazard factor (bad doors), use and final cycles of every door
lives.csv              every life that touches the record, with its true birth and its own scale
future_lives.csv       lives that end after the record's end
future_parts_used.csv  parts used after the record's end
weekly_cycles.csv      lifetime cycles of each door at the end of every seventh day
counter_faults.csv     readings that rolled over, follow an unrecorded exchange, or are wrong
route_changes.csv      days on which a door's usual use changed
shocks.csv             fuses lost to a shock, by depot and week (add rows of the same week)
"""


def door_truth(c: BlockCodes) -> Rows:
    """True use and hazard of every door."""
    doors, cycles = c.block.doors, c.block.usage.cycles
    return {
        "door": c.door,
        "depot": c.depot,
        "route_kind": words([kind.name for kind in ROUTE_CLASSES], doors.route),
        "hazard_factor": doors.hazard,
        "usual_cycles_per_day": np.round(c.block.usage.usual_cycles_per_day, 3),
        "record_from": c.record_from(),
        "opening_cycles": cycles[:, 0],
        "cycles_at_end": cycles[:, c.plan.days],
        "cycles_at_future_end": cycles[:, -1],
        "story": words([*STORIES], doors.story),
    }


def life_truth(c: BlockCodes, from_day: int, until_day: int) -> Rows:
    """Lives that end from one day on, seen from the evening before the other day."""
    usage, every = c.block.usage, c.block.lives
    day = usage.day_of(every.door, every.true_end)
    born_day = c.born_day(every)
    chosen = (born_day < until_day) & (day >= from_day)
    chosen &= (day < until_day) | (from_day == 0)
    known = c.age_known(every)[chosen]
    lives, day = every.where(chosen), day[chosen]
    ended = day < until_day
    opening = usage.cycles[lives.door, 0]
    shape = np.array([socket.shape for socket in c.sockets])
    return {
        "door": c.door[lives.door],
        "component": c.component_of(lives),
        "position": c.position_of(lives),
        "part": c.part_of(lives),
        "born_at_cycles": lives.born,
        "observed_from_cycles": np.maximum(lives.born, opening),
        "age_known": np.where(known, "yes", "no"),
        "shape": shape[lives.socket],
        "scale_cycles": np.round(lives.scale).astype(np.int64),
        "ended_at_cycles": np.where(ended, lives.true_end, UNKNOWN),
        "ended_on": np.where(ended, c.plan.dates(day), NOT_A_DATE),
        "end": np.where(ended, words([*ENDS], lives.end), "running"),
        "shock": np.where(ended & lives.shock, "yes", "no"),
    }


def counter_fault_truth(c: BlockCodes) -> Rows:
    """Labelled readings: right ones that look odd, and wrong ones."""
    taken = c.block.readings.where(c.block.readings.cause > 0)
    natural = np.isin(taken.cause, (ROLLOVER, EXCHANGE))
    error = np.abs(taken.shown - taken.true_value) // c.block.counters.counts_per_cycle[taken.door]
    return {
        "door": c.door[taken.door],
        "read_at": c.plan.moments(taken.day, taken.minute),
        "shown_value": taken.shown,
        "true_value": taken.true_value,
        "cause": words([*CAUSES], taken.cause),
        "error_cycles": np.where(natural, 0, error),
    }


def route_change_truth(c: BlockCodes) -> Rows:
    """Days on which doors changed routes."""
    changes = c.block.usage.route_changes
    return {
        "door": c.door[changes.door],
        "changed_on": c.plan.dates(changes.day),
        "cycles_per_day": np.round(changes.value, 3),
    }


def shock_truth(c: BlockCodes, frame: Frame) -> Rows:
    """How many fuses of this block each week of shock took."""
    lives = c.block.lives.where(c.block.lives.shock)
    day = c.block.usage.day_of(lives.door, lives.true_end)
    where = c.block.doors.depot[lives.door]
    counts = [
        int(((where == d) & (day >= week) & (day < week + 7)).sum())
        for d, week in zip(frame.shock_depot, frame.shock_day, strict=True)
    ]
    hit = np.array(counts, dtype=np.int64) > 0
    return {
        "depot": np.array([depot(d).code for d in frame.shock_depot], dtype="U20")[hit],
        "week_from": c.plan.dates(frame.shock_day)[hit],
        "fuses": np.array(counts, dtype=np.int64)[hit],
    }


def future_parts_truth(c: BlockCodes) -> Rows:
    return part_used_rows(c, c.plan.days, c.plan.horizon)


def week_days(plan: FleetPlan) -> NDArray[np.int64]:
    """Day numbers at whose end the weekly truth is taken, the record's last day among them."""
    return np.arange((plan.days - 1) % 7, plan.horizon, 7)


def weekly_truth(c: BlockCodes) -> Rows:
    """Lifetime cycles of each door at the end of every seventh day, one column a week."""
    days = week_days(c.plan)
    names = c.plan.dates(days).astype(str).tolist()
    columns = {
        name: c.block.usage.cycles[:, day + 1] for name, day in zip(names, days, strict=True)
    }
    return {"door": c.door, **columns}


def component_truth(plan: FleetPlan) -> Rows:
    """True life parameters of every position."""
    world = plan.world
    rows = [(socket, position) for socket in world.sockets for position in socket.positions]
    at = [socket.preventive_at_cycles for socket, _ in rows]
    revised = [socket.component == world.revision_component for socket, _ in rows]
    comes = world.revision_from_share < 1
    return {
        "component": np.array([socket.component for socket, _ in rows]),
        "position": np.array([position for _, position in rows]),
        "shape": np.array([socket.shape for socket, _ in rows]),
        "scale_cycles": np.array([socket.scale_cycles for socket, _ in rows], dtype=np.float64),
        "preventive_at_cycles": np.array([nan if isinf(cycles) else cycles for cycles in at]),
        "bad_door_hazard": np.full(len(rows), world.bad_door_hazard),
        "revision_hazard": np.array(
            [world.revision_hazard if comes and here else nan for here in revised]
        ),
    }


def plan_truth(plan: FleetPlan) -> Rows:
    """What the fleet was made from, scenario parameters included."""
    pairs = {name: getattr(plan, name) for name in plan.__dataclass_fields__}
    pairs["readings_per_door"] = plan.mean_readings
    pairs["first_day"] = plan.first_day
    world = plan.world
    pairs |= {
        f"scenario.{name}": getattr(world, name)
        for name in world.__dataclass_fields__
        if name not in ("sockets", "programme")
    }
    return {
        "key": np.array(list(pairs)),
        "value": np.array([str(value) for value in pairs.values()]),
    }
