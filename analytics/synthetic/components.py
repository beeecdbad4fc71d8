"""Lives of the parts in every door: renewals by failure, planned change, or a job next to them."""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.doors import DoorBlock
from analytics.synthetic.scenario import FUSE_TAKEN_ALONG, Scenario, Socket
from analytics.synthetic.usage import Usage

ENDS: Final = ("failed", "preventive", "other")
FAILED, PREVENTIVE, TAKEN_ALONG = 0, 1, 2
NEVER: Final = 10**9
_ROW: Final = 10**10
MOST_RENEWALS: Final = 2_000


@dataclass(frozen=True)
class Lives:
    """One row per part and position, parallel arrays; ages and ends in lifetime cycles of the door.

    `true_end` lies beyond the door's use where the part outlives the horizon. `scale` is the true
    Weibull scale of this very life, bad doors and revisions included.
    """

    door: NDArray[np.int64]
    socket: NDArray[np.int64]
    position: NDArray[np.int64]
    born: NDArray[np.int64]
    true_end: NDArray[np.int64]
    end: NDArray[np.int64]
    shock: NDArray[np.bool_]
    revised: NDArray[np.bool_]
    scale: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.door)

    def where(self, keep: NDArray[np.bool_] | NDArray[np.int64]) -> "Lives":
        """The chosen rows, or all rows in the given order."""
        return Lives(**{part.name: getattr(self, part.name)[keep] for part in fields(self)})


@dataclass(frozen=True)
class Cuts:
    """Moments in a door's cycles at which a part comes off whatever its state."""

    door: NDArray[np.int64]
    cycles: NDArray[np.int64]
    shock: NDArray[np.bool_]

    def ordered(self) -> "Cuts":
        order = np.argsort(self.door * _ROW + self.cycles, kind="stable")
        return Cuts(self.door[order], self.cycles[order], self.shock[order])

    def next_after(self, door: NDArray[np.int64], born: NDArray[np.int64]) -> "Cuts":
        """Each door's first cut after these cycles, `NEVER` where there is none; needs order."""
        keys = self.door * _ROW + self.cycles
        at = np.searchsorted(keys, door * _ROW + born, side="right")
        same = np.append(self.door, -1)[at] == door
        cycles = np.where(same, np.append(self.cycles, 0)[at], NEVER)
        return Cuts(door, cycles, same & np.append(self.shock, False)[at])


@dataclass(frozen=True)
class Risk:
    """What each door does to the lives in it, arrays of shape (n,): bad doors and revisions."""

    hazard: NDArray[np.float64]
    revised_from: NDArray[np.int64]
    revision_hazard: float


NO_CUTS: Final = Cuts(
    np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.bool_)
)


def make_lives(
    rng: np.random.Generator,
    doors: DoorBlock,
    usage: Usage,
    *,
    scenario: Scenario,
    revision_day: int,
    shocks: Cuts,
) -> Lives:
    """All lives that touch the record, sockets that disturb the fuse first, fuse last."""
    taken: list[Cuts] = [shocks]
    found: list[Lives] = []
    order = sorted(
        range(len(scenario.sockets)), key=lambda i: scenario.sockets[i].component == "fuse"
    )
    for number in order:
        socket = scenario.sockets[number]
        cuts = joined_cuts(taken) if socket.component == "fuse" else NO_CUTS
        revised_from = np.full(len(doors), NEVER)
        if socket.component == scenario.revision_component and revision_day < usage.horizon:
            revised_from = usage.cycles[:, revision_day]
        lives = renewals(
            rng,
            socket,
            number=number,
            risk=Risk(doors.hazard, revised_from, scenario.revision_hazard),
            opening=usage.cycles[:, 0],
            final=usage.cycles[:, -1],
            cuts=cuts,
        )
        found.append(lives)
        share = FUSE_TAKEN_ALONG.get(socket.component, 0.0)
        chosen = rng.random(len(lives)) < share
        changed = lives.where(chosen & (lives.true_end <= usage.cycles[lives.door, -1]))
        taken.append(Cuts(changed.door, changed.true_end, np.zeros(len(changed), dtype=np.bool_)))
    return in_door_order(found)


def renewals(
    rng: np.random.Generator,
    socket: Socket,
    *,
    number: int,
    risk: Risk,
    opening: NDArray[np.int64],
    final: NDArray[np.int64],
    cuts: Cuts,
) -> Lives:
    """Renew one socket on every door from its first cycle until it outlives the last one."""
    rows: list[Lives] = []
    ordered = cuts.ordered()
    door = np.arange(len(risk.hazard))
    born = np.zeros(len(door), dtype=np.int64)
    for _ in range(MOST_RENEWALS):
        if len(door) == 0:
            return in_door_order(rows)
        lives = one_life_each(
            rng, socket, number=number, door=door, born=born, risk=risk, cuts=ordered
        )
        rows.append(lives.where(lives.true_end > opening[lives.door]))
        ended = lives.true_end[: len(door)]
        onward = ended <= final[door]
        door, born = door[onward], ended[onward]
    raise RuntimeError(f"{socket.component} was renewed more than {MOST_RENEWALS} times")


def one_life_each(
    rng: np.random.Generator,
    socket: Socket,
    *,
    number: int,
    door: NDArray[np.int64],
    born: NDArray[np.int64],
    risk: Risk,
    cuts: Cuts,
) -> Lives:
    """The next life at every position of the socket, one position after the other.

    All positions end together: at the first failure, the planned change, or a cut.
    """
    n, positions = len(door), len(socket.positions)
    revised = born >= risk.revised_from[door]
    factor = risk.hazard[door] * np.where(revised, risk.revision_hazard, 1.0)
    scale = socket.scale_cycles * factor ** (-1.0 / socket.shape)
    drawn = scale[:, None] * rng.weibull(socket.shape, (n, positions))
    life = np.maximum(np.ceil(drawn), 1).astype(np.int64)
    planned = planned_age(rng, socket, n)
    cut = cuts.next_after(door, born)
    age = np.minimum(np.minimum(life.min(axis=1), planned), cut.cycles - born)
    shock = cut.shock & (cut.cycles - born == age)
    taken = (cut.cycles - born == age) & (planned != age)
    sound = np.where(taken, TAKEN_ALONG, PREVENTIVE)
    end = np.where((life == age[:, None]) | shock[:, None], FAILED, sound[:, None])
    return Lives(
        door=np.tile(door, positions),
        socket=np.full(n * positions, number),
        position=np.repeat(np.arange(positions), n),
        born=np.tile(born, positions),
        true_end=np.tile(born + age, positions),
        end=end.T.ravel(),
        shock=np.tile(shock, positions),
        revised=np.tile(revised, positions),
        scale=np.tile(scale, positions),
    )


def planned_age(rng: np.random.Generator, socket: Socket, n: int) -> NDArray[np.int64]:
    """Age at the visit that follows the planned change, or never."""
    if socket.preventive_at_cycles >= NEVER:
        return np.full(n, NEVER)
    return (socket.preventive_at_cycles * rng.uniform(0.97, 1.08, n)).astype(np.int64)


def joined_cuts(cuts: list[Cuts]) -> Cuts:
    return Cuts(
        np.concatenate([cut.door for cut in cuts]),
        np.concatenate([cut.cycles for cut in cuts]),
        np.concatenate([cut.shock for cut in cuts]),
    )


def in_door_order(rows: list[Lives]) -> Lives:
    """Put lives together, ordered by door, socket, position and birth."""
    merged = Lives(
        **{
            part.name: np.concatenate([getattr(row, part.name) for row in rows])
            for part in fields(Lives)
        }
    )
    return merged.where(np.lexsort((merged.born, merged.position, merged.socket, merged.door)))
