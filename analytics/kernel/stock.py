"""When to order and how many: levels from demand over an uncertain lead time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import gamma as gamma_distribution

from analytics.kernel.count_distribution import CountDistribution, match_counts, smallest_count

FloatArray = NDArray[np.float64]
MeanVariance = tuple[FloatArray, FloatArray]
DemandOverDays = Callable[[FloatArray], MeanVariance]

# Assumed until receipts say otherwise (no source): spread of a quoted lead time, and how many
# receipts the quotation is worth.
QUOTED_VARIATION, QUOTED_WEIGHT = 0.35, 4.0
RECEIPTS_ENOUGH = 8
# So long one order is to last beyond its lead time (rule of this program).
REVIEW_DAYS = 7.0
LEAD_STEPS = 25


@dataclass(frozen=True, eq=False)
class LeadTime:
    """Possible lead times: `days` (l,), their `probability` (l,), and how many receipts."""

    days: FloatArray
    probability: FloatArray
    receipts: int

    @property
    def mean_days(self) -> float:
        """Expected lead time in days."""
        return float(self.days @ self.probability)

    def still_to_come(self, waited_days: float) -> LeadTime:
        """Days that an order may still take which has not come after so many, >= 0.

        One that has waited longer than any lead time known is taken to come within a review.
        """
        left = self.days > waited_days
        if not left.any():
            return LeadTime(np.array([REVIEW_DAYS]), np.array([1.0]), self.receipts)
        chance = self.probability[left]
        return LeadTime(self.days[left] - waited_days, chance / chance.sum(), self.receipts)


@dataclass(frozen=True, eq=False)
class LeadDemand:
    """Demand until an order placed now arrives, and until the next look's one does.

    `over_lead`, `protected`: distributions at each possible lead time, and so many days of
    review later, (..., l); `probability` (l,) of the lead times.
    """

    over_lead: CountDistribution
    protected: CountDistribution
    probability: FloatArray

    def reorder_point(self, cycle_service: ArrayLike) -> NDArray[np.int64]:
        """Smallest whole number that demand over the lead time stays within, so likely, (...)."""
        return mixture_quantiles(self.over_lead, self.probability, cycle_service)

    def order_up_to(self, cycle_service: ArrayLike) -> NDArray[np.int64]:
        """The same over lead time and review, (...)."""
        return mixture_quantiles(self.protected, self.probability, cycle_service)


@dataclass(frozen=True)
class StockLevels:
    """Levels for one part; see `stock_levels` for every field."""

    reorder_point: int
    order_up_to: int
    cycle_service: float
    fill_rate: float | None
    lead_mean: float
    protected_mean: float


def lead_time_distribution(receipt_days: ArrayLike, quoted_days: float) -> LeadTime:
    """Weigh the lead times that receipts and the supplier's quotation make likely.

    Parameters
    ----------
    receipt_days : array_like, shape (n,), days, >= 0
        Days from order to receipt, one per receipt; may be empty.
    quoted_days : float, days, > 0
        Lead time the supplier quotes.

    Returns
    -------
    LeadTime
        25 equally likely lead times.

    Raises
    ------
    ValueError
        If a receipt is negative or not finite, or the quotation is not above 0.

    Notes
    -----
    From eight receipts on a gamma curve with their mean and spread smooths them; before that
    the quotation counts as four receipts with a variation of 0.35 (assumed, no source).

    Examples
    --------
    >>> round(lead_time_distribution([], 60.0).mean_days, 1)
    59.9
    """
    days = np.atleast_1d(np.asarray(receipt_days, dtype=float))
    if not quoted_days > 0:
        raise ValueError(f"a quoted lead time must be above 0 days, got {quoted_days:g}")
    if not ((days >= 0) & np.isfinite(days)).all():
        raise ValueError(f"a receipt takes 0 or more days, got {days.min():g}")
    weight = 0.0 if len(days) >= RECEIPTS_ENOUGH else QUOTED_WEIGHT
    total = weight + len(days)
    mean = (weight * quoted_days + days.sum()) / total
    quoted_square = weight * ((QUOTED_VARIATION * quoted_days) ** 2 + (quoted_days - mean) ** 2)
    variance = (quoted_square + ((days - mean) ** 2).sum()) / total
    return spread_lead_time(mean, float(np.sqrt(variance)), len(days))


def spread_lead_time(mean_days: float, sd_days: float, receipts: int = 0) -> LeadTime:
    """Lead times on a gamma curve with a given mean and spread.

    Parameters
    ----------
    mean_days : float, days, >= 0
        Expected lead time.
    sd_days : float, days, >= 0
        Its standard deviation.
    receipts : int, >= 0
        How many receipts these rest on.

    Returns
    -------
    LeadTime
        25 equally likely lead times; the mean alone where nothing spreads.

    Examples
    --------
    >>> spread_lead_time(30.0, 0.0).days.tolist()
    [30.0]
    """
    if mean_days <= 0 or sd_days < 1e-6 * mean_days:
        return LeadTime(np.array([mean_days]), np.array([1.0]), receipts)
    steps = (np.arange(LEAD_STEPS) + 0.5) / LEAD_STEPS
    form = (mean_days / sd_days) ** 2
    likely = gamma_distribution.ppf(steps, form, scale=mean_days / form)
    return LeadTime(likely, np.full(LEAD_STEPS, 1 / LEAD_STEPS), receipts)


def lead_demand(
    demand_over_days: DemandOverDays, lead_time: LeadTime, review_days: float
) -> LeadDemand:
    """Demand over an uncertain lead time, and over lead time and review.

    Parameters
    ----------
    demand_over_days : callable
        Takes days (l,), returns mean and variance of the demand over so many days, (l,), or
        (..., l) for many shelves at once.
    lead_time : LeadTime
        Possible lead times.
    review_days : float, days, >= 0
        Days between two looks at the stock.

    Returns
    -------
    LeadDemand
        What levels for any wanted service are read from.

    Raises
    ------
    ValueError
        If review_days is negative.
    """
    if not review_days >= 0:
        raise ValueError(f"a review period is 0 or more days, got {review_days:g}")
    return LeadDemand(
        match_counts(*demand_over_days(lead_time.days)),
        match_counts(*demand_over_days(lead_time.days + review_days)),
        lead_time.probability,
    )


def stock_levels(
    demand_over_days: DemandOverDays,
    lead_time: LeadTime,
    review_days: float,
    cycle_service: float,
) -> StockLevels:
    """Reorder point and order-up-to level of one part.

    Parameters
    ----------
    demand_over_days : callable
        Takes days (l,), returns mean and variance (l,) of the demand over so many days.
    lead_time : LeadTime
        Possible lead times.
    review_days : float, days, >= 0
        Days between two looks at the stock; also the time one order is to last beyond the lead.
    cycle_service : float, in (0, 1)
        Wanted chance of no shortage in one replenishment cycle.

    Returns
    -------
    StockLevels
        `reorder_point`: smallest whole number that demand over the lead time does not exceed
        with that chance; order when on hand + on order - reserved falls to it. `order_up_to`:
        the same over lead time + review. `fill_rate`: share of demand met from the shelf when
        ordering up to that level at every review, or piece by piece if review is 0; None
        without demand.
        `lead_mean`, `protected_mean`: expected demand over lead, and over lead + review.

    Raises
    ------
    ValueError
        If review_days is negative or cycle_service not between 0 and 1.

    Notes
    -----
    The distribution of demand is the mixture of its distributions at each possible lead time:
    leaving the spread of the lead time out costs more than any other error (a wanted 95 % came
    to 70 % in a simulated case). Fill rate = 1 - (E(D_lead+review - S)+ - E(D_lead - S)+) /
    E(D_review), and P(D_lead <= S - 1) for ordering piece by piece.
    """
    if not 0 < cycle_service < 1:
        raise ValueError(f"a service level lies between 0 and 1, got {cycle_service:g}")
    demand = lead_demand(demand_over_days, lead_time, review_days)
    over_lead, protected = demand.over_lead, demand.protected
    order_up_to = int(demand.order_up_to(cycle_service))
    lead_mean = float(over_lead.mean @ lead_time.probability)
    protected_mean = float(protected.mean @ lead_time.probability)
    per_review = protected_mean - lead_mean
    if per_review > 0:
        short = mixture_shortage(protected, lead_time.probability, order_up_to)
        carried = mixture_shortage(over_lead, lead_time.probability, order_up_to)
        fill_rate = 1 - (short - carried) / per_review
    else:
        fill_rate = float(over_lead.cdf(order_up_to - 1) @ lead_time.probability)
    return StockLevels(
        reorder_point=int(demand.reorder_point(cycle_service)),
        order_up_to=order_up_to,
        cycle_service=cycle_service,
        fill_rate=fill_rate if protected_mean > 0 else None,
        lead_mean=lead_mean,
        protected_mean=protected_mean,
    )


def mixture_quantiles(
    parts: CountDistribution, weights: FloatArray, probability: ArrayLike
) -> NDArray[np.int64]:
    """Smallest counts that mixtures of distributions do not exceed with a given chance.

    Parameters
    ----------
    parts : CountDistribution, shape (..., l)
        Distribution of the count in each case, one row for each mixture.
    weights : ndarray, shape (l,), sums to 1
        Chance of each case.
    probability : array_like, in [0, 1), broadcasts with (...)
        Chance to reach.

    Returns
    -------
    ndarray of int, of the broadcast shape
        Whole numbers, >= 0.
    """
    likely = np.max(parts.mean + 6 * np.sqrt(parts.variance), axis=-1) + 8
    wanted, guess = np.broadcast_arrays(np.asarray(probability, dtype=float), likely)
    found = smallest_count(lambda count: parts.cdf(count[..., None]) @ weights, wanted, guess)
    return found.astype(np.int64)


def mixture_shortage(parts: CountDistribution, weights: FloatArray, level: int) -> float:
    """Expected demand beyond a level, E(D - level)+, for a mixture of distributions.

    Parameters
    ----------
    parts : CountDistribution, shape (l,)
        Distribution of the demand in each case.
    weights : ndarray, shape (l,), sums to 1
        Chance of each case.
    level : int, pieces, >= 0
        Stock level.

    Returns
    -------
    float
        Pieces, >= 0.
    """
    # E(D - s)+ = E(D) - sum over k < s of P(D > k): a finite sum, no tail to cut.
    below = np.arange(level)[:, None]
    beyond = (1 - parts.cdf(below)).sum(axis=0) if level else np.zeros_like(parts.mean)
    return float(np.maximum(parts.mean - beyond, 0) @ weights)


def suggest_order(
    position: ArrayLike,
    reorder_point: ArrayLike,
    order_up_to: ArrayLike,
    pack: ArrayLike = 1,
    minimum: ArrayLike = 1,
) -> NDArray[np.int64]:
    """Pieces to order now.

    Parameters
    ----------
    position : array_like, pieces
        On hand + on order - reserved; may be negative.
    reorder_point, order_up_to : array_like, pieces, >= 0
        Levels of `stock_levels`.
    pack : array_like, pieces, >= 1
        Pieces in a pack.
    minimum : array_like, pieces, >= 0
        Least order the supplier takes.

    Returns
    -------
    ndarray of int
        0 above the reorder point; else enough to reach order_up_to, at least the minimum,
        rounded up to whole packs.

    Raises
    ------
    ValueError
        If a pack holds less than one piece.

    Notes
    -----
    A level of 0 means that no stock is called for: nothing is then ordered unless pieces are
    owed.

    Examples
    --------
    >>> suggest_order([3, 9], 4, 12, pack=5).tolist()
    [10, 0]
    """
    if (np.asarray(pack) < 1).any():
        raise ValueError(f"a pack holds at least one piece, got {np.min(pack)}")
    missing = np.asarray(order_up_to) - np.asarray(position)
    wanted = np.maximum(missing, minimum)
    packs = -(-wanted // np.asarray(pack))
    due = (np.asarray(position) <= np.asarray(reorder_point)) & (missing > 0)
    return np.where(due, packs * np.asarray(pack), 0).astype(np.int64)
