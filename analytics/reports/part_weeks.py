"""Week by week: what a shelf needs, what arrives, what is left, and the chance of being short."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils.translation import gettext as _

from analytics.kernel.stock_paths import StockOutlook, WeeklyDemand, simulate_stock
from analytics.models import PartOutlook
from analytics.reports.part_arrivals import Arrival, arrivals_of
from analytics.reports.part_order import reserved_of
from analytics.reports.part_words import amount
from fleetdoors.run_out_strip import RunOutStrip, RunOutWeek, draw_run_out
from fleetdoors.templatetags.units import between, number, per_cent

WEEKS = 13
# The same futures at every look, so that the picture changes only when the figures do.
SEED = 20
# Less than this many pieces on average is none.
LEAST_PIECES = 0.05
_DAYS_OF_WEEK = 7.0
# Not knowing the level hardly matters where the variance is that of chance alone.
_SURE_OF_LEVEL = 1e6


@dataclass(frozen=True)
class WeeksAhead:
    """The strip of weeks, the same in words and week by week, and what is on its way."""

    strip: RunOutStrip
    caption: str
    words: str
    headings: list[str]
    rows: list[list[str]]
    arrivals: list[Arrival]


def weeks_ahead(row: PartOutlook, today: date) -> WeeksAhead | None:
    """Stock and the chance of having come up short by the end of each week; queries once.

    None for a shelf never counted, and where nothing is needed.
    """
    if row.on_hand is None or row.mean <= 0:
        return None
    arrivals = arrivals_of(row, today)
    demand = WeeklyDemand(
        np.full(WEEKS, row.mean * _DAYS_OF_WEEK / row.horizon_days), 1.0, _level_weight(row)
    )
    # What is spoken for leaves the shelf within days.
    free = row.on_hand - reserved_of(row)
    orders = [each.order for each in arrivals]
    found = simulate_stock(demand, free, orders, np.random.default_rng(SEED))
    limit = 1 - row.service_level
    chances = found.short_by.tolist()
    weeks = [RunOutWeek(_week_label(today, week), chance) for week, chance in enumerate(chances)]
    return WeeksAhead(
        strip=draw_run_out(weeks, limit=limit),
        caption=_caption(weeks, limit),
        words=_("Chance of having come up short by the end of week: %(weeks)s")
        % {"weeks": ", ".join(f"{each.label}: {per_cent(each.chance)}" for each in weeks)},
        headings=[
            _("Calendar week"),
            _("Needed, pieces"),
            _("Arrives, pieces"),
            _("Left at its end, pieces"),
            _("8 times in 10"),
            _("Short by then"),
        ],
        rows=_rows(found, demand, weeks),
        arrivals=arrivals,
    )


def _rows(found: StockOutlook, demand: WeeklyDemand, weeks: list[RunOutWeek]) -> list[list[str]]:
    # What is owed is no stock; how likely that is stands beside it.
    low, middle, high = np.maximum(found.stock, 0.0).tolist()
    return [
        [
            each.label,
            amount(float(demand.mean[k])),
            _pieces(float(found.received[k])),
            number(middle[k]),
            between(low[k], high[k]),
            per_cent(each.chance),
        ]
        for k, each in enumerate(weeks)
    ]


def _pieces(expected: float) -> str:
    """Whole pieces where it is certain that they come in this week, else what is expected."""
    if expected < LEAST_PIECES:
        return "0"
    return number(expected) if expected == round(expected) else amount(expected)


def _level_weight(row: PartOutlook) -> float:
    """What makes the pieces over the horizon spread as the forecast says."""
    beyond_chance = row.variance - row.mean
    return row.mean**2 / beyond_chance if beyond_chance > 0 else _SURE_OF_LEVEL


def _week_label(today: date, week: int) -> str:
    return f"{(today + timedelta(days=_DAYS_OF_WEEK * (week + 1) - 1)).isocalendar().week}"


def _caption(weeks: list[RunOutWeek], limit: float) -> str:
    past = next((week for week in weeks if week.chance > limit), None)
    if past is None:
        return _("Likely to last the next %(weeks)s weeks, also if nothing is ordered") % {
            "weeks": number(WEEKS)
        }
    return _(
        "Coming up short is likelier than the accepted %(limit)s from calendar week %(week)s"
    ) % {
        "limit": per_cent(limit),
        "week": past.label,
    }
