"""Shelves run day by day: what is asked of them, what is ordered, what arrives, what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.stock import suggest_order
from analytics.proof.claim import Floats

Ints = NDArray[np.int64]

WEEK = 7


@dataclass(frozen=True, eq=False)
class Levels:
    """Levels of one week by policy and shelf, (policies, shelves), pieces."""

    reorder_point: Ints
    order_up_to: Ints


@dataclass(frozen=True, eq=False)
class Years:
    """What happens whatever the policy: pieces asked for and lead times by shelf and day.

    `wanted` (shelves, days), pieces; `lead_days` (shelves, days), days that an order placed on
    that day takes, at least 1; `counted_from`: the days before let the shelves settle.
    """

    wanted: Ints
    lead_days: Ints
    counted_from: int


# From the week and the lead times of the first policy's receipts so far to that week's levels.
LevelsOfWeek = Callable[[int, list[int]], Levels]


@dataclass(frozen=True, eq=False)
class Kept:
    """By policy and shelf over the days counted, (policies, shelves).

    `wanted`, `given`: pieces asked for, and given from the shelf at once. `cycles`, `in_time`:
    receipts, and those that came before anything was owed. `stock`: mean pieces on the shelf.
    """

    wanted: Ints
    given: Ints
    cycles: Ints
    in_time: Ints
    stock: Floats


def run_shelves(years: Years, levels_of: LevelsOfWeek, look_days: Ints) -> Kept:
    """Run every policy on every shelf through the same need and the same lead times.

    `look_days` (policies,): days between two looks at the list of what to order. What cannot be
    given is owed until something arrives. A shelf begins at its reorder point with nothing on
    its way.
    """
    shelves, days = years.wanted.shape
    levels = levels_of(0, [])
    net = levels.reorder_point.copy()
    receipts: list[int] = []
    arriving = np.zeros((*net.shape, days + int(years.lead_days.max()) + 2), np.int64)
    on_its_way: dict[int, list[int]] = {}
    on_order = np.zeros_like(net)
    given, cycles, in_time, stock = (np.zeros_like(net) for _ in range(4))
    for day in range(days):
        if day % WEEK == 0:
            levels = levels_of(day // WEEK, receipts)
        counted = day >= years.counted_from
        came, today = arriving[:, :, day], years.wanted[:, day]
        receipts += on_its_way.pop(day, [])
        cycles += counted & (came > 0)
        in_time += counted & (came > 0) & (net >= 0)
        net, on_order = net + came, on_order - came
        given += counted * np.minimum(today, np.maximum(net, 0))
        net = net - today
        stock += counted * np.maximum(net, 0)
        order = suggest_order(net + on_order, levels.reorder_point, levels.order_up_to)
        order = np.where((day % look_days == 0)[:, None], order, 0)
        # What is ordered in the evening arrives on a morning, so many days of need later.
        due = day + 1 + years.lead_days[:, day]
        arriving[:, np.arange(shelves), due] += order
        for shelf in np.flatnonzero(order[0]).tolist():
            on_its_way.setdefault(int(due[shelf]), []).append(int(years.lead_days[shelf, day]))
        on_order = on_order + order
    wanted = np.broadcast_to(years.wanted[:, years.counted_from :].sum(axis=1), net.shape)
    return Kept(wanted, given, cycles, in_time, stock / (days - years.counted_from))
