"""What work took and cost in each month: real minutes and invoices where they are on record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.plan_jobs import REPAIR_MINUTES
from analytics.assessment.score_frame import Frame
from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.labour import ClosedVisits, HourPrices, OutsideWork
from analytics.models.score import Measure

_MINUTES_AN_HOUR = 60.0
# A visit left open for longer does not speak for all the days between.
MOST_DAYS = 31


@dataclass(frozen=True)
class WorkDays:
    """Days on which tasks were done on a door: door row, epoch day, the catalogue's minutes."""

    door: Ints
    day: Floats
    minutes: Floats


@dataclass(frozen=True)
class Calls:
    """Faults: door row, day and moment of the finding."""

    door: Ints
    day: Floats
    epoch: Ints


def assess_labour(
    frame: Frame,
    days: WorkDays,
    calls: Calls,
    *,
    visits: ClosedVisits,
    prices: HourPrices,
    depot: Ints,
    cycles: Floats,
) -> dict[str, Floats]:
    """Minutes, money for them, and how many visits had minutes of their own.

    A visit with its own minutes stands for the tasks done on its days and for the faults among its
    jobs; all other work takes the catalogue's minutes, and a call an hour. `depot`: row of each
    door's depot, whose price counts.
    """
    timed = ~np.isnan(visits.minutes)
    plain = ~_within(days, visits, timed)
    called = ~_repaired(calls, visits)
    door = np.concatenate((days.door[plain], calls.door[called], visits.door[timed]))
    day = np.concatenate((days.day[plain], calls.day[called], np.floor(visits.until_day[timed])))
    minutes = np.concatenate(
        (days.minutes[plain], np.full(called.sum(), REPAIR_MINUTES), visits.minutes[timed])
    )
    price = prices.on(depot[door], np.floor(day))
    all_minutes = frame.by_day(door, day, minutes)
    money = np.nan_to_num(price) * minutes / _MINUTES_AN_HOUR
    unrated = np.where(np.isnan(price), minutes, 0.0)
    alone = ~_within(days, visits, np.ones(len(timed), dtype=bool))
    ends = np.floor(visits.until_day)
    every = frame.by_day(days.door[alone], days.day[alone]) + frame.by_day(visits.door, ends)
    return {
        Measure.LABOUR.value: np.stack((all_minutes, cycles)),
        Measure.LABOUR_COST.value: np.stack((frame.by_day(door, day, money), cycles)),
        Measure.UNRATED.value: np.stack((frame.by_day(door, day, unrated), all_minutes)),
        Measure.TIMED.value: np.stack((frame.by_day(visits.door[timed], ends[timed]), every)),
    }


def assess_outside(frame: Frame, outside: OutsideWork, cycles: Floats) -> dict[str, Floats]:
    """Money for work done outside, and how many invoices are in another currency."""
    here, sign = outside.counts, np.sign(outside.amount)
    return {
        Measure.OUTSIDE.value: np.stack(
            (
                frame.by_day(outside.door[here], outside.day[here], outside.amount[here]),
                cycles,
            )
        ),
        Measure.OUTSIDE_ELSE.value: np.stack(
            (
                frame.by_day(outside.door[~here], outside.day[~here], sign[~here]),
                frame.by_day(outside.door, outside.day, sign),
            )
        ),
    }


def _within(days: WorkDays, visits: ClosedVisits, chosen: Flags) -> Flags:
    """Which days of work lie within one of the visits chosen to the same door."""
    begun = np.floor(visits.from_day[chosen]).astype(np.int64)
    length = np.floor(visits.until_day[chosen]).astype(np.int64) - begun + 1
    length = np.clip(length, 1, MOST_DAYS)
    door = np.repeat(visits.door[chosen], length)
    step = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
    return np.isin(
        _key(days.door, days.day.astype(np.int64)), _key(door, np.repeat(begun, length) + step)
    )


def _repaired(calls: Calls, visits: ClosedVisits) -> Flags:
    """Which calls were jobs of a visit with its own minutes, told by door and moment."""
    found = np.stack((calls.door, calls.epoch), axis=1)
    known = set(zip(visits.repaired_door.tolist(), visits.repaired_epoch.tolist(), strict=True))
    return np.array([tuple(each) in known for each in found.tolist()], dtype=bool)


def _key(door: Ints, day: Ints) -> Ints:
    return door * 10**6 + day
