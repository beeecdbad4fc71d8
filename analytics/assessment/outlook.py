"""What to order: demand against stock, lead time and the service level wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.assessment.demand_terms import Demand
from analytics.assessment.shelf import Shelf, call_for
from analytics.datasets.columns import Floats
from analytics.datasets.doors import DoorRows
from analytics.datasets.fleet import PartsRecord
from analytics.kernel.count_distribution import match_counts
from analytics.kernel.stock import (
    REVIEW_DAYS,
    LeadTime,
    StockLevels,
    lead_time_distribution,
    spread_lead_time,
    stock_levels,
)

# Common practice, no source: what is assumed where the catalogue or the depot says nothing.
DEFAULT_LEAD_DAYS = 14.0
DEFAULT_LEAD_VARIATION = 0.35
DEFAULT_SERVICE_LEVEL = 0.95
QUANTILES = np.array([0.05, 0.10, 0.50, 0.90, 0.95])
# Ends of the quarters of a budget, in days from now.
QUARTER_DAYS: Floats = 365.25 / 4 * np.arange(1.0, 5.0)
_SHORTEST_LEAD_DAYS = 0.5


@dataclass(frozen=True)
class Outlook:
    """Demand over the horizon, stock and the order suggested, for one part at one depot."""

    demand: Demand
    mean: float
    variance: float
    quantiles: tuple[int, ...]
    on_hand: int | None
    on_order: int | None
    service_level: float
    reorder_point: int
    order_up_to: int
    fill_rate: float | None
    suggested_order: int | None
    run_out_day: float | None
    basis: dict[str, float | str | None]


@dataclass(frozen=True)
class _Spread:
    """Demand over the horizon."""

    mean: float
    variance: float
    quantiles: tuple[int, ...]
    horizon_days: float


def assess_outlooks(
    doors: DoorRows, record: PartsRecord, demands: list[Demand], horizon_days: float
) -> list[Outlook]:
    """The outlook of every part at every depot over the horizon."""
    horizon = np.array([horizon_days])
    moments = [demand.over_days(horizon) for demand in demands]
    mean = np.array([each[0][0] for each in moments])
    variance = np.array([each[1][0] for each in moments])
    counts = match_counts(mean[:, None], variance[:, None]).quantile(QUANTILES)
    leads = [lead_time_of(record, part) for part in range(len(record.parts.ids))]
    return [
        _outlook(
            doors,
            record,
            demand,
            leads[demand.part],
            _Spread(
                float(mean[k]),
                float(variance[k]),
                tuple(int(each) for each in counts[k]),
                horizon_days,
            ),
        )
        for k, demand in enumerate(demands)
    ]


def lead_time_of(record: PartsRecord, part: int) -> LeadTime:
    """Lead times learned from deliveries, or with the mean and spread of the catalogue or assumed.

    Deliveries take the catalogue's place from the eighth on; before that its mean counts as four.
    """
    quoted = record.parts.lead_time_days[part]
    mean = DEFAULT_LEAD_DAYS if np.isnan(quoted) else float(quoted)
    learned = record.shelves.receipt_days.get(part, [])
    if learned:
        return lead_time_distribution(learned, max(mean, _SHORTEST_LEAD_DAYS))
    noted = record.parts.lead_time_sd_days[part]
    spread = mean * DEFAULT_LEAD_VARIATION if np.isnan(noted) else float(noted)
    return spread_lead_time(mean, spread)


def _outlook(
    doors: DoorRows,
    record: PartsRecord,
    demand: Demand,
    lead: LeadTime,
    spread: _Spread,
) -> Outlook:
    wanted = record.shelves.service_level[demand.depot, demand.part]
    service = DEFAULT_SERVICE_LEVEL if np.isnan(wanted) else float(wanted)
    levels = stock_levels(demand.over_days, lead, REVIEW_DAYS, service)
    today = float(doors.depots.day[demand.depot])
    shelf = _shelf_of(record, demand, today + lead.mean_days)
    call = call_for(
        shelf,
        reorder_point=levels.reorder_point,
        order_up_to=levels.order_up_to,
        pack=int(record.parts.pack_size[demand.part]),
        per_day=spread.mean / spread.horizon_days,
        today=today,
    )
    return Outlook(
        demand=demand,
        mean=spread.mean,
        variance=spread.variance,
        quantiles=spread.quantiles,
        on_hand=shelf.on_hand,
        on_order=shelf.on_order,
        service_level=service,
        reorder_point=levels.reorder_point,
        order_up_to=levels.order_up_to,
        fill_rate=levels.fill_rate,
        suggested_order=call.suggested_order,
        run_out_day=call.run_out_day,
        basis={
            **demand.basis,
            **_stock_basis(record, demand, lead, levels),
            **_quarters_basis(demand),
            **_announced_basis(demand, spread.horizon_days),
        },
    )


def _shelf_of(record: PartsRecord, demand: Demand, one_lead_time_from_now: float) -> Shelf:
    """What lies there, comes and is spoken for; without a day named it comes after a lead time."""
    place, shelves = (demand.depot, demand.part), record.shelves
    expected = float(shelves.expected_day[place])
    return Shelf(
        on_hand=_whole(shelves.on_hand[place]),
        on_order=_whole(shelves.on_order[place]),
        arrives_day=one_lead_time_from_now if np.isnan(expected) else expected,
        reserved=int(shelves.reserved[place]),
    )


def _stock_basis(
    record: PartsRecord, demand: Demand, lead: LeadTime, levels: StockLevels
) -> dict[str, float | str | None]:
    """What the levels rest on."""
    parts, place = record.parts, (demand.depot, demand.part)
    return {
        "lead_days": lead.mean_days,
        "lead_sd_days": _spread(lead),
        "lead_is_assumed": float(
            lead.receipts == 0 and np.isnan(parts.lead_time_days[demand.part])
        ),
        "lead_receipts": float(lead.receipts),
        "reserved": float(record.shelves.reserved[place]),
        "expected_day": _known(float(record.shelves.expected_day[place])),
        "service_is_assumed": float(np.isnan(record.shelves.service_level[place])),
        "review_days": REVIEW_DAYS,
        "lead_mean": levels.lead_mean,
        "protected_mean": levels.protected_mean,
        "pack": float(parts.pack_size[demand.part]),
    }


def _quarters_basis(demand: Demand) -> dict[str, float | str | None]:
    """Mean and variance of demand up to the end of each of the next four quarters."""
    mean, variance = demand.over_days(QUARTER_DAYS)
    told: dict[str, float | str | None] = {}
    for k in range(len(QUARTER_DAYS)):
        told[f"mean_by_quarter_{k + 1}"] = float(mean[k])
        told[f"variance_by_quarter_{k + 1}"] = float(variance[k])
    return told


def _announced_basis(demand: Demand, horizon_days: float) -> dict[str, float | str | None]:
    """Of the mean over the horizon, what each kind of announced change makes; none, nothing."""
    horizon = np.array([horizon_days])
    return {f"announced_{kind}": float(of(horizon)[0]) for kind, of in demand.announced.items()}


def _spread(lead: LeadTime) -> float:
    away: Floats = lead.days - lead.mean_days
    return float(np.sqrt(lead.probability @ away**2))


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value


def _whole(value: float) -> int | None:
    return None if np.isnan(value) else int(value)
