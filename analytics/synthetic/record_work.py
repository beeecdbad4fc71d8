"""Rows of the work on a block of doors: fitted parts, faults, parts used, tasks done."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.codes import NOT_A_DATE, NOT_A_MOMENT, BlockCodes, words
from analytics.synthetic.components import ENDS
from analytics.synthetic.csvout import UNKNOWN
from analytics.synthetic.work import FINDER_SHARES, FINDERS, LAST_MINUTE, Faults

Rows = Mapping[str, NDArray[np.generic]]
OLDEST_FITMENT_DAYS = 20 * 365


def fitment_rows(c: BlockCodes) -> Rows:
    plan, usage, all_lives = c.plan, c.block.usage, c.block.lives
    in_record = c.born_day(all_lives) < plan.days
    known = c.age_known(all_lives)[in_record]
    lives = all_lives.where(in_record)
    opening = usage.cycles[lives.door, 0]
    before = np.maximum(opening - lives.born, 0) * (lives.born < opening)
    usual = np.maximum(usage.usual_cycles_per_day[lives.door], 1.0) * 300 / 365
    # A door that is hardly used now was used more before: no door is older than it can be.
    days_before = np.minimum(np.ceil(before / usual), OLDEST_FITMENT_DAYS)
    fitted_day = c.born_day(lives) - days_before.astype(np.int64)
    day = usage.day_of(lives.door, lives.true_end)
    ended = day < plan.days
    return {
        "door": c.door[lives.door],
        "component": c.component_of(lives),
        "position": c.position_of(lives),
        "part": c.part_of(lives),
        "fitted_on": np.where(known, plan.dates(fitted_day), NOT_A_DATE),
        "fitted_at_cycles": np.where(known, lives.born, UNKNOWN),
        "observed_from_cycles": np.where(known & (before > 0), opening, UNKNOWN),
        "removed_on": np.where(ended, plan.dates(day), NOT_A_DATE),
        "removed_at_cycles": np.where(ended, lives.true_end, UNKNOWN),
        "removal": np.where(ended, words([*ENDS], lives.end), ""),
    }


def fault_rows(c: BlockCodes) -> Rows:
    found = joined_faults(c.block.life_faults, c.block.small_faults, c.plan.days)
    end = c.plan.days * 1440
    start = found.day * 1440 + found.minute
    until = start + 75 + c.rng.gamma(2.0, 110.0, len(start)).astype(np.int64)
    morning = (found.day + 1) * 1440 + 340
    until = np.where(until % 1440 > LAST_MINUTE, morning, until)
    until = np.where(until // 1440 > found.day, morning, until)
    stands = (found.is_failure == "yes") & (found.component != "remote_battery")
    given = c.rng.random(len(start)) < 0.45
    finder = c.rng.choice(len(FINDERS), len(start), p=FINDER_SHARES)
    begin = c.plan.first_day.astype("datetime64[m]")
    return {
        "door": c.door[found.door],
        "found_at": begin + start,
        "at_cycles": np.where(given, found.cycles, UNKNOWN),
        "component": found.component,
        "mode": found.mode,
        "complaint": found.complaint,
        "detected_by": words([*FINDERS], finder),
        "is_failure": found.is_failure,
        "action": found.action,
        "off_road_from": np.where(stands, begin + start, NOT_A_MOMENT),
        "off_road_until": np.where(stands & (until < end), begin + until, NOT_A_MOMENT),
    }


def part_used_rows(c: BlockCodes, from_day: int, until_day: int) -> Rows:
    """Parts of lives that ended, and of small faults, from one day to before another."""
    usage = c.block.usage
    lives = c.block.lives
    day = usage.day_of(lives.door, lives.true_end)
    chosen = (day >= from_day) & (day < until_day)
    lives, day = lives.where(chosen), day[chosen]
    minute = usage.minute_of(lives.door, day, lives.true_end)
    small = c.block.small_faults
    with_part = (small.part != "") & (small.day >= from_day) & (small.day < until_day)
    pair = (c.component_of(lives) == "spring") & (lives.position == 0)
    door = np.concatenate([lives.door, small.door[with_part], lives.door[pair]])
    day = np.concatenate([day, small.day[with_part], day[pair]])
    minute = np.concatenate([minute, small.minute[with_part], minute[pair]])
    cables = np.full(int(pair.sum()), "FD-LCAB-P")
    part = np.concatenate([c.part_of(lives), small.part[with_part], cables])
    order = np.lexsort((part, minute, day, door))
    return {
        "door": c.door[door[order]],
        "used_at": c.plan.moments(day[order], minute[order] + 45),
        "part": part[order],
        "quantity": np.ones(len(order), dtype=np.int64),
        "depot": c.depot[door[order]],
    }


def task_rows(c: BlockCodes) -> Rows:
    """Preventive work of the visits, and the renewal of springs when they were changed."""
    tasks, usage, lives = c.block.tasks, c.block.usage, c.block.lives
    day = usage.day_of(lives.door, lives.true_end)
    renewed = (c.component_of(lives) == "spring") & (lives.position == 0)
    renewed &= day < c.plan.days
    spring = lives.where(renewed)
    minute = usage.minute_of(spring.door, day[renewed], spring.true_end)
    door = np.concatenate([tasks.door, spring.door])
    when = np.concatenate([tasks.day, day[renewed]])
    at = np.concatenate([tasks.minute, minute])
    task = np.concatenate([tasks.task, np.full(len(spring), "REN")])
    driver = np.concatenate([tasks.by_driver, np.zeros(len(spring), dtype=np.bool_)])
    order = np.lexsort((task, at, when, door))
    door, when, at = door[order], when[order], at[order]
    exact = (task[order] == "REN") | (c.rng.random(len(order)) < 0.6)
    by = words(["tech 1", "tech 2", "tech 3"], door % 3)
    return {
        "door": c.door[door],
        "task": task[order],
        "done_at": c.plan.moments(when, at),
        "at_cycles": np.where(exact & ~driver[order], usage.at(door, when, at), UNKNOWN),
        "done_by": np.where(driver[order], "driver", by),
    }


def joined_faults(first: Faults, second: Faults, days: int) -> Faults:
    """Faults of both kinds that were found before a day, ordered by door and moment."""
    columns = {
        name: np.concatenate([getattr(first, name), getattr(second, name)])
        for name in first.__dataclass_fields__
    }
    order = np.lexsort((columns["component"], columns["minute"], columns["day"], columns["door"]))
    order = order[columns["day"][order] < days]
    return Faults(**{name: values[order] for name, values in columns.items()})
