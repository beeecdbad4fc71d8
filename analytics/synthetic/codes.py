"""Codes and dates of one block, which all its tables share."""

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.components import Lives
from analytics.synthetic.doors import MOVED
from analytics.synthetic.fleet import Block, FleetPlan, Frame
from analytics.synthetic.names import depot, numbered, part_numbers

NOT_A_DATE = np.datetime64("NaT", "D")
NOT_A_MOMENT = np.datetime64("NaT", "m")


def words(values: list[str], index: NDArray[np.int64]) -> NDArray[np.str_]:
    return np.array(values)[index]


class BlockCodes:
    """A block with the codes its rows are written with."""

    def __init__(self, plan: FleetPlan, frame: Frame, block: Block) -> None:
        self.plan, self.block = plan, block
        self.rng = block.rng
        number = block.doors.number
        self.door = numbered("RD", number + 1, plan.doors)
        moved = block.doors.story == MOVED
        self.first_truck = numbered("T", number + 1, 2 * plan.doors)
        later = numbered("T", number + 1 + plan.doors, 2 * plan.doors)
        self.truck = np.where(moved, later, self.first_truck)
        self.moved = np.flatnonzero(moved)
        self.moved_day = np.full(len(number), plan.days // 2)
        self.depot = words([depot(d).code for d in range(frame.depots)], block.doors.depot)
        self.part = part_numbers(plan.world.sockets)
        self.sockets = plan.world.sockets

    def record_from(self) -> NDArray[np.datetime64]:
        return self.plan.dates(self.block.doors.start_day)

    def part_of(self, lives: Lives) -> NDArray[np.str_]:
        model = self.block.doors.model[lives.door]
        return self.part[lives.socket, lives.position, model, lives.revised.astype(np.int64)]

    def position_of(self, lives: Lives) -> NDArray[np.str_]:
        table = np.array([(*s.positions, "")[:2] for s in self.sockets])
        return table[lives.socket, lives.position]

    def component_of(self, lives: Lives) -> NDArray[np.str_]:
        return words([socket.component for socket in self.sockets], lives.socket)

    def born_day(self, lives: Lives) -> NDArray[np.int64]:
        """Day on which a part came in; the door's first day for what was there before."""
        there = lives.born <= self.block.usage.cycles[lives.door, 0]
        day = self.block.usage.day_of(lives.door, lives.born)
        return np.where(there, self.block.doors.start_day[lives.door], day)

    def age_known(self, lives: Lives) -> NDArray[np.bool_]:
        """False for the share of first lives whose fitting nobody wrote down."""
        opening = self.block.usage.cycles[lives.door, 0]
        draw = np.random.default_rng([self.plan.seed, 2, int(self.block.doors.number[0])])
        lost = draw.random(len(lives)) < self.plan.world.unknown_age_share
        return ~(lost & (lives.born <= opening) & (opening > 0))
