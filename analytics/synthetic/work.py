"""What the shop wrote down: faults, parts used, and preventive tasks done more or less in time."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.components import FAILED, Lives
from analytics.synthetic.doors import DoorBlock
from analytics.synthetic.names import visit_pace
from analytics.synthetic.readings import Readings
from analytics.synthetic.scenario import QUARTER_TASKS, Bundle, Scenario
from analytics.synthetic.usage import Usage
from analytics.synthetic.window_work import served_until, work_in_windows

_ROW: Final = 10**6
LAST_MINUTE: Final = 1310


@dataclass(frozen=True)
class Sign:
    """How a fault shows: failure mode, driver's words, and what was done."""

    mode: str
    complaint: str
    action: str


SIGNS: Final[dict[str, tuple[Sign, ...]]] = {
    "converter": (
        Sign("FM07", "S1", "replace"),
        Sign("FM08", "S1", "replace"),
        Sign("FM09", "S4", "replace"),
    ),
    "fuse": (Sign("FM10", "S1", "replace"), Sign("FM10", "S10", "replace")),
    "control_board": (Sign("FM12", "S1", "replace"), Sign("FM13", "S7", "replace")),
    "coil_cable": (
        Sign("FM14", "S10", "replace"),
        Sign("FM15", "S10", "replace"),
        Sign("FM16", "S4", "replace"),
    ),
    "motor": (Sign("FM19", "S3", "replace"), Sign("FM20", "S4", "replace")),
    "closed_sensor": (Sign("FM22", "S5", "replace"), Sign("FM22", "S9", "replace")),
    "spring": (Sign("FM25", "S8", "replace"), Sign("FM24", "S8", "replace")),
    "roller": (Sign("FM29", "S11", "replace"),),
    "switch": (Sign("FM04", "S1", "replace"), Sign("FM04", "S13", "replace")),
}


@dataclass(frozen=True)
class SmallFault:
    """A fault outside the followed lives: steady in cycles, with or without a part."""

    component: str
    sign: Sign
    part: str
    is_failure: str
    cycles_between: float


SMALL_FAULTS: Final = (
    SmallFault("remote_battery", Sign("FM01", "S2", "replace"), "FD-RBAT-3", "yes", 3e4),
    SmallFault("connector", Sign("FM18", "S10", "clean"), "", "yes", 8e4),
    SmallFault("connector", Sign("FM18", "S10", "repair"), "FD-CONN-K", "yes", 2e5),
    SmallFault("bottom_seal", Sign("FM32", "S6", "replace"), "FD-SEAL-96", "no", 5e4),
    SmallFault("track", Sign("FM31", "S5", "adjust"), "", "yes", 1.2e5),
    SmallFault("track", Sign("FM31", "S11", "replace"), "FD-TRK-S", "yes", 3e5),
    SmallFault("turnbuckle", Sign("FM34", "S7", "adjust"), "", "no", 1.5e5),
    SmallFault("ajar_lamp", Sign("FM23", "S9", "replace"), "FD-LAMP-1", "yes", 1.1e5),
    SmallFault("", Sign("", "S4", "none_found"), "", "no", 9e4),
)
FINDERS: Final = ("driver", "PM", "technician", "inspection", "roadside")
FINDER_SHARES: Final = (0.72, 0.12, 0.10, 0.04, 0.02)


@dataclass(frozen=True)
class Faults:
    """Faults as arrays; `part` is empty where none was used or where a life tells of it."""

    door: NDArray[np.int64]
    cycles: NDArray[np.int64]
    day: NDArray[np.int64]
    minute: NDArray[np.int64]
    component: NDArray[np.str_]
    mode: NDArray[np.str_]
    complaint: NDArray[np.str_]
    action: NDArray[np.str_]
    is_failure: NDArray[np.str_]
    part: NDArray[np.str_]


def life_faults(
    rng: np.random.Generator, lives: Lives, usage: Usage, components: NDArray[np.str_]
) -> Faults:
    """One fault for every life that ended in failure before the horizon."""
    failed = lives.where(lives.end == FAILED)
    day = usage.day_of(failed.door, failed.true_end)
    failed, day = failed.where(day < usage.horizon), day[day < usage.horizon]
    component = components[failed.socket]
    columns = {name: np.zeros(len(failed), dtype="U12") for name in ("mode", "complaint", "action")}
    for name, signs in SIGNS.items():
        rows = np.flatnonzero(component == name)
        which = rng.integers(0, len(signs), len(rows))
        for column, values in columns.items():
            values[rows] = np.array([getattr(sign, column) for sign in signs])[which]
    return Faults(
        failed.door,
        failed.true_end,
        day,
        usage.minute_of(failed.door, day, failed.true_end),
        component,
        columns["mode"],
        columns["complaint"],
        columns["action"],
        np.full(len(failed), "yes"),
        np.full(len(failed), "", dtype="U20"),
    )


def small_faults(rng: np.random.Generator, usage: Usage) -> Faults:
    """Faults that come evenly over the cycles of every door."""
    used = usage.cycles[:, -1] - usage.cycles[:, 0]
    rate = 1.0 / np.array([fault.cycles_between for fault in SMALL_FAULTS])
    counts = rng.poisson(used[:, None] * rate)
    door, kind = (np.repeat(axis.ravel(), counts.ravel()) for axis in np.indices(counts.shape))
    cycles = usage.cycles[door, 0] + 1 + (rng.random(len(door)) * used[door]).astype(np.int64)
    day = usage.day_of(door, cycles)

    def of(values: list[str]) -> NDArray[np.str_]:
        return np.array(values)[kind]

    return Faults(
        door,
        cycles,
        day,
        usage.minute_of(door, day, cycles),
        of([fault.component for fault in SMALL_FAULTS]),
        of([fault.sign.mode for fault in SMALL_FAULTS]),
        of([fault.sign.complaint for fault in SMALL_FAULTS]),
        of([fault.sign.action for fault in SMALL_FAULTS]),
        of([fault.is_failure for fault in SMALL_FAULTS]),
        of([fault.part for fault in SMALL_FAULTS]),
    )


@dataclass(frozen=True)
class Tasks:
    """Tasks done as arrays, `by_driver` where no technician was needed."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    minute: NDArray[np.int64]
    task: NDArray[np.str_]
    by_driver: NDArray[np.bool_]


@dataclass(frozen=True)
class Round:
    """A series of visits: at most so many days or cycles apart, snapped to a reading close by."""

    bundles: tuple[Bundle, ...]
    days: float
    cycles: float
    snap_days: int
    only_last_days: int
    by_driver: bool


def rounds_of(scenario: Scenario) -> tuple[Round, ...]:
    """The visits of a scenario's preventive programme."""
    main = Round(scenario.programme, 90, 5_000, 12, scenario.task_log_days, by_driver=False)
    if not scenario.short_visits:
        return (main,)
    return (
        main,
        Round((Bundle(QUARTER_TASKS[:1] + QUARTER_TASKS[-1:], 1),), 30, 2_500, 8, 400, False),
        Round((Bundle(("CLN",), 1),), 7, 1_000, 0, 90, True),
    )


def tasks_done(
    rng: np.random.Generator,
    doors: DoorBlock,
    usage: Usage,
    readings: Readings,
    *,
    days: int,
    scenario: Scenario,
) -> Tasks:
    """Preventive work of the record, late as in life: mostly days, now and then weeks."""
    found: list[Tasks] = []
    rounds = rounds_of(scenario)
    if scenario.follows_due_list:
        found.append(_tasks_by_due_list(rng, doors, usage, readings, days=days))
        rounds = tuple(each for each in rounds if each.by_driver)
    for each in rounds:
        visits = visit_days(rng, doors, usage, readings, days=days, each=each)
        door, day = visits.door, visits.day
        minute = visit_minutes(rng, readings, door, day)
        for bundle in each.bundles:
            rows = np.flatnonzero(visits.number % bundle.every_visits == 0)
            times = len(bundle.tasks)
            rows = np.repeat(rows, times)
            names = np.tile(np.array(bundle.tasks), len(rows) // times)
            driven = np.full(len(rows), each.by_driver)
            found.append(Tasks(door[rows], day[rows], minute[rows], names, driven))
    return Tasks(
        np.concatenate([part.door for part in found]),
        np.concatenate([part.day for part in found]),
        np.concatenate([part.minute for part in found]),
        np.concatenate([part.task for part in found]),
        np.concatenate([part.by_driver for part in found]),
    )


def _tasks_by_due_list(
    rng: np.random.Generator, doors: DoorBlock, usage: Usage, readings: Readings, *, days: int
) -> Tasks:
    """The technicians' tasks where the shop follows its due list."""
    until = served_until(doors, readings, days)
    done = work_in_windows(rng, doors, usage, until, days=days)
    # One moment for each visit, whatever is done in it.
    visits, visit = np.unique(done.door * _ROW + done.day, return_inverse=True)
    minute = visit_minutes(rng, readings, visits // _ROW, visits % _ROW)[visit]
    return Tasks(done.door, done.day, minute, done.task, np.zeros(len(done.door), dtype=np.bool_))


@dataclass(frozen=True)
class Visits:
    """Visits as arrays, with the running number that tells which bundle is due."""

    door: NDArray[np.int64]
    day: NDArray[np.int64]
    number: NDArray[np.int64]


def visit_days(
    rng: np.random.Generator,
    doors: DoorBlock,
    usage: Usage,
    readings: Readings,
    *,
    days: int,
    each: Round,
) -> Visits:
    """Every visit of one round."""
    n = len(doors)
    until = served_until(doors, readings, days)
    served = np.maximum(until - doors.start_day, 1)
    rate = (usage.cycles[:, days] - usage.cycles[:, 0]) / served
    interval = np.clip(each.cycles / np.maximum(rate, 0.1), 0.3 * each.days, each.days)
    interval *= np.array([visit_pace(number) for number in range(doors.depot.max() + 1)])[
        doors.depot
    ]
    most = int(days / (0.85 * interval.min())) + 2
    late = rng.exponential(0.06, (n, most)) + (rng.random((n, most)) < 0.07) * rng.exponential(
        0.6, (n, most)
    )
    gaps = interval[:, None] * (rng.uniform(0.88, 1.0, (n, most)) + late)
    gaps[:, 0] *= rng.random(n)
    day = (doors.start_day[:, None] + np.cumsum(gaps, axis=1)).astype(np.int64)
    seen = (day < until[:, None]) & (day >= days - each.only_last_days)
    door, column = np.nonzero(seen)
    number = column + rng.integers(0, 4, n)[door]
    return Visits(door, snapped(readings, door, day[door, column], each.snap_days), number)


def snapped(
    readings: Readings, door: NDArray[np.int64], day: NDArray[np.int64], within: int
) -> NDArray[np.int64]:
    """Move a visit to the door's next reading if one follows soon: who reads is there."""
    keys = np.append(readings.door * _ROW + readings.day, -1)
    at = np.searchsorted(keys[:-1], door * _ROW + day)
    gap = keys[at] - (door * _ROW + day)
    return np.where((gap >= 0) & (gap <= within), day + gap, day)


def visit_minutes(
    rng: np.random.Generator,
    readings: Readings,
    door: NDArray[np.int64],
    day: NDArray[np.int64],
) -> NDArray[np.int64]:
    """A while after the reading of that day, or any time of the working day."""
    free = rng.integers(400, 1080, len(door))
    if len(readings) == 0:
        return free
    keys = readings.door * _ROW + readings.day
    at = np.minimum(np.searchsorted(keys, door * _ROW + day), len(keys) - 1)
    return np.where(keys[at] == door * _ROW + day, readings.minute[at] + 20, free)
