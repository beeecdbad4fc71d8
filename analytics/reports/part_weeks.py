"""Week by week: how likely a shelf is to come up short before what is on order arrives."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils.translation import gettext as _

from analytics.kernel.stock import LeadTime, lead_time_distribution
from analytics.kernel.stock_paths import OpenOrder, WeeklyDemand, simulate_stock
from analytics.models import PartOutlook
from analytics.reports.part_order import expected_on
from fleetdoors.run_out_strip import RunOutStrip, RunOutWeek, draw_run_out
from fleetdoors.templatetags.units import number, per_cent

WEEKS = 13
# The same futures at every look, so that the picture changes only when the figures do.
SEED = 20
_DAYS_OF_WEEK = 7.0
# Not knowing the level hardly matters where the variance is that of chance alone.
_SURE_OF_LEVEL = 1e6


@dataclass(frozen=True)
class WeeksAhead:
    """The strip of weeks, and the same in words."""

    strip: RunOutStrip
    caption: str
    words: str


def weeks_ahead(row: PartOutlook, today: date) -> WeeksAhead | None:
    """Chance of having come up short by the end of each week; None for a shelf never counted."""
    if row.on_hand is None or row.mean <= 0:
        return None
    demand = WeeklyDemand(
        np.full(WEEKS, row.mean * _DAYS_OF_WEEK / row.horizon_days), 1.0, _level_weight(row)
    )
    orders = [OpenOrder(row.on_order, _arrival(row, today))] if row.on_order else []
    found = simulate_stock(demand, row.on_hand, orders, np.random.default_rng(SEED))
    limit = 1 - row.service_level
    chances = found.short_by.tolist()
    weeks = [RunOutWeek(_week_label(today, week), chance) for week, chance in enumerate(chances)]
    return WeeksAhead(
        strip=draw_run_out(weeks, limit=limit),
        caption=_caption(weeks, limit),
        words=_("Chance of having come up short by the end of week: %(weeks)s")
        % {"weeks": ", ".join(f"{each.label}: {per_cent(each.chance)}" for each in weeks)},
    )


def _level_weight(row: PartOutlook) -> float:
    """What makes the pieces over the horizon spread as the forecast says."""
    beyond_chance = row.variance - row.mean
    return row.mean**2 / beyond_chance if beyond_chance > 0 else _SURE_OF_LEVEL


def _arrival(row: PartOutlook, today: date) -> LeadTime:
    """The day noted, or else one lead time from now."""
    expected = expected_on(row)
    if expected is not None:
        days = max((expected - today).days, 0)
        return LeadTime(np.array([float(days)]), np.array([1.0]), 0)
    return lead_time_distribution([], max(float(row.explanation.get("lead_days") or 0.0), 1.0))


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
