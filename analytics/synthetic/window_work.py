"""Preventive work of a shop that follows its due list: what is due is done in its window, mostly.

Intervals, windows and shorter intervals for a setting are those of the program's own catalogue; a
test holds the two together. The shop keeps no winter pace: where roads are salted it is late then.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.doors import STALE, DoorBlock
from analytics.synthetic.names import depot
from analytics.synthetic.readings import Readings
from analytics.synthetic.usage import Usage

YEARLY: Final = "ANN"
TASKS: Final = (
    ("REV", 30.0, 2_500.0),
    ("CTR", 30.0, np.inf),
    *((code, 90.0, 5_000.0) for code in ("LUB", "LFT", "COI", "REL")),
    *((code, 180.0, 10_000.0) for code in ("BAL", "SEN", "FAS", "SEA", "ELE")),
    ("RBT", 365.0, np.inf),
    (YEARLY, 365.0, 25_000.0),
)
"""Code, days and cycles of the interval."""

SEVERITY: Final[dict[str, dict[str, float]]] = {
    "dust": {
        "ANN": 0.8, "BAL": 0.8, "COI": 0.8, "ELE": 0.8, "FAS": 0.8, "LFT": 0.9, "LUB": 0.5,
        "REL": 0.8, "REV": 0.8, "SEA": 0.8, "SEN": 0.8,
    },
    "coast": {
        "ANN": 0.9, "BAL": 0.9, "COI": 0.7, "ELE": 0.7, "FAS": 0.9, "LFT": 0.7, "LUB": 0.8,
        "REL": 0.9, "REV": 0.9, "SEA": 0.9, "SEN": 0.9,
    },
    "high_duty": {"COI": 0.8, "ELE": 0.8, "LFT": 0.9, "LUB": 0.7},
}  # fmt: skip
HIGH_DUTY_CYCLES_PER_DAY: Final = 45.0
LEAST_FACTOR: Final = 0.4
ALONGSIDE: Final = (YEARLY, "RBT")
"""What is written down of a yearly visit; the yearly task holds the rest."""
OPENS_AT: Final = 0.91
"""Share of the interval from which a task is done along with a visit: its window is open."""
YEARLY_WITH_SHARE, YEARLY_WAITS_UNTIL = 0.4, 1.05

LATE_VISITS: Final = ((0.03, 0.03), (0.02, 0.14), (0.06, 0.02))
"""By depot: share of visits that come late at the record's beginning and at its end."""
RECENT_DAYS: Final = 500
"""The monthly look and reading stand in the record for so long; the rest for all of it."""


@dataclass(frozen=True)
class WindowWork:
    """Tasks done as arrays, in the order of days."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    task: NDArray[np.str_]


def work_in_windows(
    rng: np.random.Generator,
    doors: DoorBlock,
    usage: Usage,
    until: NDArray[np.int64],
    *,
    days: int,
) -> WindowWork:
    """Go through the days: a door whose first task reaches its visit's moment is visited.

    `until`: (n,) day from which nobody comes to the door. A visit does all tasks whose windows are
    open; the yearly one does all the others as well, and alone is written down. Nobody works on
    the seventh day of the week.
    """
    codes = np.array([code for code, _days, _cycles in TASKS])
    factor = severity(doors, usage, days)
    each_days = factor * np.array([row[1] for row in TASKS])
    each_cycles = factor * np.array([row[2] for row in TASKS])
    ahead = _shares_at_start(rng, len(doors))
    done_day = doors.start_day[:, None]
    done_cycles = usage.cycles[np.arange(len(doors)), doors.start_day][:, None]
    moment = _moments(rng, doors, 0.0)
    found: list[tuple[NDArray[np.int64], NDArray[np.int64], int]] = []
    for day in range(days):
        if day % 7 == 6:
            continue
        cycles = usage.cycles[:, day][:, None]
        share = ahead + np.maximum(
            (day - done_day) / each_days, (cycles - done_cycles) / each_cycles
        )
        share[:, -1] = np.where(_yearly_fits(share), share[:, -1], 0.0)
        there = (doors.start_day < day) & (day < until)
        visited = there & (share.max(axis=1) >= moment)
        if not visited.any():
            continue
        does = (share >= OPENS_AT) & visited[:, None]
        is_yearly = does[:, -1]
        written = does & (~is_yearly[:, None] | np.isin(codes, ALONGSIDE))
        door, task = np.nonzero(written)
        found.append((door, task, day))
        does |= is_yearly[:, None]
        ahead = np.where(does, 0.0, ahead)
        done_day = np.where(does, day, done_day)
        done_cycles = np.where(does, cycles, done_cycles)
        moment = np.where(visited, _moments(rng, doors, day / days), moment)
    return _kept(found, codes, days)


def _yearly_fits(share: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether the yearly task would do others in their windows, or can wait for them no longer."""
    others = (share[:, :-2] >= OPENS_AT).mean(axis=1)
    return (others >= YEARLY_WITH_SHARE) | (share[:, -1] >= YEARLY_WAITS_UNTIL)


def severity(doors: DoorBlock, usage: Usage, days: int) -> NDArray[np.float64]:
    """Shorter intervals, (n, tasks), for the depot's setting and for much use of late."""
    codes = [code for code, _days, _cycles in TASKS]

    def factors(condition: str) -> NDArray[np.float64]:
        return np.array([SEVERITY.get(condition, {}).get(code, 1.0) for code in codes])

    settings = [depot(number).setting.split("+") for number in range(doors.depot.max() + 1)]
    by_depot = np.array([np.prod([factors(word) for word in words], axis=0) for words in settings])
    lately = (usage.cycles[:, days] - usage.cycles[:, days - 60]) / 60
    busy = np.where((lately > HIGH_DUTY_CYCLES_PER_DAY)[:, None], factors("high_duty"), 1.0)
    return np.maximum(by_depot[doors.depot] * busy, LEAST_FACTOR)


def _shares_at_start(rng: np.random.Generator, n: int) -> NDArray[np.float64]:
    """How far each interval has run when a door's record begins: small ones inside large ones."""
    yearly = rng.random(n)
    runs = np.array([365.0 / row[1] for row in TASKS])
    return (yearly[:, None] * np.round(runs)) % 1.0 * 0.9


def _moments(rng: np.random.Generator, doors: DoorBlock, passed: float) -> NDArray[np.float64]:
    """The share of an interval at which the next visit comes: in the window, or late."""
    n = len(doors)
    first, last = np.array(LATE_VISITS).T
    chance = (first + (last - first) * passed)[doors.depot % len(LATE_VISITS)]
    late = 1.12 + rng.exponential(0.2, n)
    return np.where(rng.random(n) < chance, late, rng.uniform(0.94, 1.02, n))


def _kept(
    found: list[tuple[NDArray[np.int64], NDArray[np.int64], int]],
    codes: NDArray[np.str_],
    days: int,
) -> WindowWork:
    empty = np.zeros(0, dtype=np.int64)
    door = np.concatenate([empty, *(row[0] for row in found)])
    task = np.concatenate([empty, *(row[1] for row in found)])
    day = np.repeat(
        np.array([row[2] for row in found], dtype=np.int64), [len(row[0]) for row in found]
    )
    kept = (day >= days - RECENT_DAYS) | ~np.isin(codes[task], ("REV", "CTR"))
    return WindowWork(door[kept], day[kept], codes[task[kept]])


def served_until(doors: DoorBlock, readings: Readings, days: int) -> NDArray[np.int64]:
    """The day from which nobody comes to each door."""
    until = np.minimum(doors.end_day, days)
    return np.where(doors.story == STALE, last_read_day(readings, len(doors)), until)


def last_read_day(readings: Readings, doors: int) -> NDArray[np.int64]:
    """The day of each door's last reading, 0 where it was never read."""
    last = np.zeros(doors, dtype=np.int64)
    np.maximum.at(last, readings.door, readings.day)
    return last
