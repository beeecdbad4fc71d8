"""Puts one block of doors together: use, lives, counters, readings and work of the same doors."""

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic import components, doors, readings, usage, work
from analytics.synthetic.names import DOOR_MODELS
from analytics.synthetic.scenario import SCENARIOS, Scenario

BLOCK_DOORS: Final = 1_000
DEPOT_DOORS: Final = 80
BOARD_BRINGS_COUNTER: Final = 0.4
DEFAULT_UNTIL: Final = date(2026, 6, 26)


@dataclass(frozen=True)
class FleetPlan:
    """What to make: the same plan gives the same bytes."""

    doors: int
    days: int
    seed: int
    scenario: str = "steady"
    until: date = DEFAULT_UNTIL
    readings_per_door: float | None = None
    future_days: int = 182

    def __post_init__(self) -> None:
        if self.scenario not in SCENARIOS:
            known = ", ".join(SCENARIOS)
            raise ValueError(f"scenario must be one of {known}; {self.scenario!r} is not")
        limits = {"doors": 1, "days": 30, "seed": 0, "future_days": 7}
        for name, least in limits.items():
            if getattr(self, name) < least:
                raise ValueError(f"{name} must be at least {least}; {getattr(self, name)} is not")
        if self.readings_per_door is not None and not 1 <= self.readings_per_door <= self.days:
            raise ValueError(
                f"readings_per_door must be between 1 and days; {self.readings_per_door} is not"
            )

    @property
    def world(self) -> Scenario:
        return SCENARIOS[self.scenario]

    @property
    def horizon(self) -> int:
        return self.days + self.future_days

    @property
    def first_day(self) -> np.datetime64:
        return np.datetime64(self.until, "D") - (self.days - 1)

    @property
    def mean_readings(self) -> float:
        return self.readings_per_door or max(self.days / 20, 1.0)

    @property
    def revision_day(self) -> int:
        share = self.world.revision_from_share
        return int(self.days * share) if share < 1 else self.horizon

    @property
    def blocks(self) -> int:
        return -(-self.doors // BLOCK_DOORS)

    def moments(self, day: NDArray[np.int64], minute: NDArray[np.int64]) -> NDArray[np.datetime64]:
        """Depot-local moments of day numbers and minutes."""
        return self.dates(day).astype("datetime64[m]") + minute.astype("timedelta64[m]")

    def dates(self, day: NDArray[np.int64]) -> NDArray[np.datetime64]:
        """Dates of day numbers; a number below zero lies before the record."""
        return self.first_day + day.astype("timedelta64[D]")


@dataclass(frozen=True)
class Frame:
    """What all blocks share: the depot of every door, and the weeks of fuse shocks."""

    depot_of_door: NDArray[np.int64]
    shock_depot: NDArray[np.int64]
    shock_day: NDArray[np.int64]

    @property
    def depots(self) -> int:
        return int(self.depot_of_door.max()) + 1


@dataclass(frozen=True)
class Block:
    """One block of doors with everything that is true of it and everything recorded."""

    doors: doors.DoorBlock
    usage: usage.Usage
    lives: components.Lives
    exchanges: readings.Exchanges
    counters: readings.Counters
    readings: readings.Readings
    life_faults: work.Faults
    small_faults: work.Faults
    tasks: work.Tasks
    rng: np.random.Generator


def make_frame(plan: FleetPlan) -> Frame:
    """Spread the doors unevenly over depots and draw the weeks of shocks."""
    rng = np.random.default_rng([plan.seed, 0])
    depots = max(1, min(plan.doors // DEPOT_DOORS, 40))
    weight = rng.uniform(0.7, 1.3, depots)
    edges = np.round(np.cumsum(weight) / weight.sum() * plan.doors)
    depot = np.searchsorted(edges, np.arange(plan.doors), side="right").astype(np.int64)
    _, depot = np.unique(depot, return_inverse=True)
    weeks = rng.poisson(plan.world.shocks_per_depot_year * plan.horizon / 365.25, depots)
    shock_depot = np.repeat(np.arange(depots), weeks)
    shock_day = rng.integers(0, max(plan.horizon - 7, 1), len(shock_depot))
    return Frame(depot, shock_depot, shock_day)


def make_block(plan: FleetPlan, frame: Frame, index: int) -> Block:
    """Make the block with this index, independent of all other blocks."""
    rng = np.random.default_rng([plan.seed, 1, index])
    number = np.arange(index * BLOCK_DOORS, min((index + 1) * BLOCK_DOORS, plan.doors))
    block = doors.make_doors(
        rng,
        number=number,
        depot=frame.depot_of_door[number],
        models=len(DOOR_MODELS),
        days=plan.days,
        horizon=plan.horizon,
        scenario=plan.world,
    )
    counters = readings.Counters(
        np.array([10**model.counter_digits for model in DOOR_MODELS])[block.model],
        np.array([model.counts_per_cycle for model in DOOR_MODELS])[block.model],
    )
    used = usage.make_usage(
        rng,
        block,
        first_day=plan.first_day,
        days=plan.days,
        horizon=plan.horizon,
        scenario=plan.world,
        turn_cycles=counters.modulus // counters.counts_per_cycle,
    )
    lives = components.make_lives(
        rng,
        block,
        used,
        scenario=plan.world,
        revision_day=plan.revision_day,
        shocks=shock_cuts(rng, plan, frame, block, used),
    )
    return record_block(rng, plan, block, used=used, counters=counters, lives=lives)


def record_block(
    rng: np.random.Generator,
    plan: FleetPlan,
    block: doors.DoorBlock,
    *,
    used: usage.Usage,
    counters: readings.Counters,
    lives: components.Lives,
) -> Block:
    """Read the counters and write down the work of doors whose true lives are known."""
    names = np.array([socket.component for socket in plan.world.sockets])
    door, day = readings.reading_days(
        rng,
        block,
        days=plan.days,
        weekday_of_first=int((plan.first_day.astype(np.int64) + 3) % 7),
        per_door=plan.mean_readings,
    )
    taken, exchanges = readings.take_readings(
        rng,
        used,
        counters,
        door=door,
        day=day,
        depot=block.depot,
        recorded=board_exchanges(rng, plan, block, used, counters=counters, lives=lives),
        fault_scale=plan.world.counter_fault_scale,
    )
    return Block(
        doors=block,
        usage=used,
        lives=lives,
        exchanges=exchanges,
        counters=counters,
        readings=taken,
        life_faults=work.life_faults(rng, lives, used, names),
        small_faults=work.small_faults(rng, used),
        tasks=work.tasks_done(rng, block, used, taken, days=plan.days, scenario=plan.world),
        rng=rng,
    )


def shock_cuts(
    rng: np.random.Generator,
    plan: FleetPlan,
    frame: Frame,
    block: doors.DoorBlock,
    used: usage.Usage,
) -> components.Cuts:
    """Doors of a depot whose fuse a shock takes, each on a day of that week on which it ran."""
    door: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)]
    day: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)]
    for depot, week in zip(frame.shock_depot, frame.shock_day, strict=True):
        there = np.flatnonzero(block.depot == depot)
        if len(there) == 0:
            continue
        hit = there[rng.random(len(there)) < plan.world.shock_share]
        door.append(hit)
        day.append(week + rng.integers(0, 7, len(hit)))
    who, when = np.concatenate(door), np.concatenate(day)
    ran = used.cycles[who, when + 1] - used.cycles[who, when]
    who, when, ran = who[ran > 0], when[ran > 0], ran[ran > 0]
    cycles = used.cycles[who, when] + 1 + (rng.random(len(who)) * ran).astype(np.int64)
    return components.Cuts(who, cycles, np.ones(len(who), dtype=np.bool_))


def board_exchanges(
    rng: np.random.Generator,
    plan: FleetPlan,
    block: doors.DoorBlock,
    used: usage.Usage,
    *,
    counters: readings.Counters,
    lives: components.Lives,
) -> readings.Exchanges:
    """Counters that came with a new control board, fitted before the next day's work."""
    names = np.array([socket.component for socket in plan.world.sockets])
    boards = lives.where(
        (names[lives.socket] == "control_board") & (lives.end == components.FAILED)
    )
    day = used.day_of(boards.door, boards.true_end) + 1
    known = (rng.random(len(boards)) < BOARD_BRINGS_COUNTER) & (day < plan.days)
    known &= day < block.end_day[boards.door]
    key = np.unique(boards.door[known] * 10**6 + day[known])
    door, day = key // 10**6, key % 10**6
    secondhand = (rng.random(len(door)) * 0.3 * counters.modulus[door]).astype(np.int64)
    first = np.where(rng.random(len(door)) < 0.7, 0, secondhand)
    return readings.Exchanges(door, day, first, np.ones(len(door), dtype=np.bool_))
