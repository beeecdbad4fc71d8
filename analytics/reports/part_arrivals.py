"""What is on its way to a shelf, and when each order may come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.kernel.stock import LeadTime, spread_lead_time
from analytics.kernel.stock_paths import OpenOrder
from analytics.models import PartOutlook
from analytics.reports.part_order import expected_on
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import day_range, number
from inspections.models import OrderLine

RANGE_ENDS = (0.1, 0.9)


@dataclass(frozen=True)
class Arrival:
    """Pieces on their way, in words and as the futures take them."""

    label: str
    value: str
    note: str
    url: str
    order: OpenOrder


def arrivals_of(row: PartOutlook, today: date) -> list[Arrival]:
    """Orders with pieces still to come, and what else is on its way there; queries once."""
    lead = _lead_time(row)
    lines = OrderLine.objects.outstanding().filter(order__depot=row.depot, part=row.part)
    found = [_of_line(line, lead, today) for line in lines.with_links()]
    rest = (row.on_order or 0) - sum(each.order.quantity for each in found)
    if rest > 0:
        comes, when = _coming(expected_on(row), 0, lead, today)
        label = _("From another depot, or noted at a count")
        found.append(Arrival(label, _pieces(rest), when, "", OpenOrder(rest, comes)))
    return found


def _lead_time(row: PartOutlook) -> LeadTime:
    """The lead times learned or noted, as the levels took them."""
    basis = row.explanation
    return spread_lead_time(
        max(float(basis.get("lead_days") or 0.0), 0.0),
        max(float(basis.get("lead_sd_days") or 0.0), 0.0),
        int(basis.get("lead_receipts") or 0),
    )


def _of_line(line: OrderLine, lead: LeadTime, today: date) -> Arrival:
    placed_at = line.order.placed_at
    placed_on = today if placed_at is None else placed_at.astimezone(line.order.depot.zone).date()
    comes, when = _coming(_named(line, placed_on, lead), (today - placed_on).days, lead, today)
    return Arrival(
        label=_("Order %(order)s, %(supplier)s")
        % {"order": line.order.number, "supplier": line.order.supplier},
        value=_pieces(line.outstanding),
        note=when,
        url=reverse("order-detail", args=[line.order.number]),
        order=OpenOrder(line.outstanding, comes),
    )


def _named(line: OrderLine, placed_on: date, lead: LeadTime) -> date | None:
    """The day expected, unless it is but the quotation where deliveries have taught more."""
    if line.quoted_lead_days is None or not lead.receipts:
        return line.expected_on
    quoted = placed_on + timedelta(days=round(line.quoted_lead_days))
    return None if line.expected_on == quoted else line.expected_on


def _pieces(count: int) -> str:
    return ngettext("%(n)s piece", "%(n)s pieces", count) % {"n": number(count)}


def _coming(named: date | None, waited: int, lead: LeadTime, today: date) -> tuple[LeadTime, str]:
    """Days until it may come: those to the day named, or what lead times leave."""
    if named is not None and named >= today:
        days = LeadTime(np.array([float((named - today).days)]), np.array([1.0]), 0)
        return days, _("%(day)s, the day named") % {"day": full_day(named)}
    left = lead.still_to_come(float(waited))
    spread = _spread_words(left, today)
    if named is None:
        return left, _("%(spread)s, by the lead times known") % {"spread": spread}
    return left, _("late: %(day)s was named; now %(spread)s, by the lead times known") % {
        "day": full_day(named),
        "spread": spread,
    }


def _spread_words(left: LeadTime, today: date) -> str:
    """Between which days it comes, 8 times in 10."""
    order = np.argsort(left.days)
    reached = np.cumsum(left.probability[order])
    first, last = (
        today + timedelta(days=round(float(left.days[order][np.searchsorted(reached, end)])))
        for end in RANGE_ENDS
    )
    return day_range(first, last)
