"""Week by week: the chance that the shelf runs empty before what is on order arrives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.kernel.stock import LeadTime

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PATHS = 2000
DAYS_PER_WEEK = 7.0
ENDS = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class OpenOrder:
    """Pieces on order and the days from now until they may arrive.

    Raises
    ------
    ValueError
        If the quantity is not above 0.
    """

    quantity: int
    arrives_in: LeadTime

    def __post_init__(self) -> None:
        if not self.quantity > 0:
            raise ValueError(f"an order holds at least one piece, got {self.quantity}")


@dataclass(frozen=True, eq=False)
class WeeklyDemand:
    """Demand ahead, as `simulate_stock` takes it.

    Parameters
    ----------
    mean : ndarray, shape (w,), pieces per week, >= 0
        Expected demand of each week.
    dispersion : float, >= 1
        Variance over mean of one week's count at a known level (1 = by chance alone).
    level_weight : float, > 0
        Weight of the gamma level that all weeks of a path share (`DemandCalibration.weight`).

    Raises
    ------
    ValueError
        If a value is out of its range.
    """

    mean: FloatArray
    dispersion: float
    level_weight: float

    def __post_init__(self) -> None:
        if self.mean.ndim != 1 or not ((self.mean >= 0) & np.isfinite(self.mean)).all():
            raise ValueError("weekly demand must be 0 or more and finite")
        if not self.dispersion >= 1:
            raise ValueError(f"dispersion must be 1 or more, got {self.dispersion:g}")
        if not self.level_weight > 0:
            raise ValueError(f"level_weight must be above 0, got {self.level_weight:g}")


@dataclass(frozen=True, eq=False)
class StockOutlook:
    """Futures of the stock; see `simulate_stock` for every field."""

    short_chance: FloatArray
    short_by: FloatArray
    stock: FloatArray
    received: FloatArray
    first_short_week: FloatArray
    ever_short: float
    total_demand: IntArray


def simulate_stock(
    demand: WeeklyDemand, on_hand: int, orders: list[OpenOrder], rng: np.random.Generator
) -> StockOutlook:
    """Run 2,000 futures of demand and receipts through the shelf.

    Parameters
    ----------
    demand : WeeklyDemand
        Demand of the weeks ahead.
    on_hand : int, pieces
        Stock now, less what is reserved; may be negative.
    orders : list of OpenOrder
        What has been ordered already; nothing more is ordered.
    rng : numpy.random.Generator
        Source of chance; the same seed gives the same futures.

    Returns
    -------
    StockOutlook
        `short_chance` (w,): chance of owing pieces at the end of each week; `short_by` (w,):
        chance of having owed by then; `stock` (3, w): pieces at the end of each week, owed ones
        below 0, that 10, 50 and 90 % of the futures do not exceed; `received` (w,): pieces that
        arrive in each week on average; `first_short_week` (3,): week, counted from 1, by which
        10, 50 and 90 % of the futures have run short, infinite beyond the weeks asked for;
        `ever_short`: chance within all weeks; `total_demand` (2000,): pieces over all weeks.

    Notes
    -----
    One future shares one level of demand over all its weeks (gamma with mean 1): not knowing
    the level matters more than the chance of single weeks. Pieces that arrive within a week
    serve that week.
    """
    weeks = len(demand.mean)
    level = rng.gamma(demand.level_weight, 1 / demand.level_weight, PATHS)
    expected = level[:, None] * demand.mean
    if demand.dispersion > 1:
        size = 1 / (demand.dispersion - 1)
        expected = rng.gamma(np.maximum(expected * size, 1e-12)) / size
    taken = rng.poisson(expected)
    received = np.zeros((PATHS, weeks + 1), dtype=np.int64)
    for order in orders:
        days = rng.choice(order.arrives_in.days, PATHS, p=order.arrives_in.probability)
        week = np.minimum(np.maximum(np.ceil(days / DAYS_PER_WEEK) - 1, 0), weeks).astype(int)
        np.add.at(received, (np.arange(PATHS), week), order.quantity)
    stock = on_hand + np.cumsum(received[:, :weeks] - taken, axis=1)
    short = stock < 0
    reached = np.maximum.accumulate(short, axis=1)
    first = np.where(short.any(axis=1), short.argmax(axis=1) + 1.0, np.inf)
    return StockOutlook(
        short_chance=short.mean(axis=0),
        short_by=reached.mean(axis=0),
        stock=np.quantile(stock, ENDS, axis=0, method="inverted_cdf").astype(float),
        received=received[:, :weeks].mean(axis=0),
        first_short_week=np.quantile(first, ENDS, method="inverted_cdf"),
        ever_short=float(short.any(axis=1).mean()),
        total_demand=taken.sum(axis=1),
    )
