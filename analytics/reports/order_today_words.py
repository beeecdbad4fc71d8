"""The list of what to order today, ready for its page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.forms.order_today import Ticked
from analytics.reports.basis import Basis
from analytics.reports.failing_parts import FailingParts
from analytics.reports.order_today import LineToday, OrdersToday
from analytics.reports.part_words import run_out_words
from fleetdoors.templatetags.units import number


@dataclass(frozen=True)
class ShownLine:
    """A line as the page shows it."""

    key: str
    part: str
    part_number: str
    part_url: str
    depot: str
    klass: str
    out: str
    reason: str
    pieces: str
    is_ticked: bool
    error: str
    source: str
    cost: str
    transfer: str
    transfer_url: str
    written: str
    written_url: str
    alarm: str


def shown_lines(
    lines: list[LineToday], today: date, ticked: Ticked | None, failing: FailingParts
) -> list[ShownLine]:
    """Each line in words, with what the buyer typed where a form comes back."""
    return [_shown(line, today, ticked, failing.of_part(line.part.pk)) for line in lines]


def summary_words(found: OrdersToday, basis: Basis) -> str:
    """How many lines, and what they cost where prices are known, by currency."""
    if basis.run is None:
        return _("No need is worked out yet, so it cannot be told what to order.")
    if not found.lines:
        return _("Nothing calls for an order today: every counted shelf is above its level.")
    count = len(found.lines) + found.beyond
    said = ngettext(
        "%(n)s part at a depot is at or below its level.",
        "%(n)s parts at depots are at or below their level.",
        count,
    ) % {"n": number(count)}
    costs: dict[str, Decimal] = {}
    for line in found.lines:
        if line.price and line.cost is not None:
            costs[line.price.currency] = costs.get(line.price.currency, Decimal(0)) + line.cost
    if not costs:
        return said
    money = ", ".join(f"{number(float(costs[each]), 2)} {each}" for each in sorted(costs))
    return _("%(said)s What is listed would cost %(money)s.") % {"said": said, "money": money}


def _shown(line: LineToday, today: date, ticked: Ticked | None, alarm: str) -> ShownLine:
    row = line.row
    typed = ticked.quantities.get(line.key) if ticked else None
    error = ticked.errors.get(line.key, "") if ticked else ""
    return ShownLine(
        key=line.key,
        part=line.part.name,
        part_number=line.part.part_number,
        part_url=reverse(
            "part-detail", args=[line.part.part_number], query={"depot": row.depot.code}
        ),
        depot=str(row.depot),
        klass=line.klass.words(),
        out=run_out_words(row, today),
        reason=line.reason(today),
        pieces=typed if typed is not None else str(line.buy),
        is_ticked=_is_ticked(line, ticked),
        error=error,
        source=_source(line),
        cost=_cost(line),
        transfer=_transfer(line),
        transfer_url=_transfer_url(line),
        alarm=alarm,
        written=_written(line),
        written_url=reverse("order-detail", args=[line.written.order.number])
        if line.written
        else "",
    )


def _is_ticked(line: LineToday, ticked: Ticked | None) -> bool:
    """As the form came back; at first whatever can be bought and is on no order being written."""
    if ticked is not None:
        return line.key in ticked.keys
    return line.price is not None and line.buy > 0 and line.written is None


def _written(line: LineToday) -> str:
    if line.written is None:
        return ""
    return _("%(n)s are on order %(order)s, not placed yet") % {
        "n": number(line.written.quantity),
        "order": line.written.order,
    }


def _source(line: LineToday) -> str:
    if not line.buy:
        return ""
    if line.price is None:
        return _("no supplier's price on record")
    return _("%(supplier)s, %(price)s %(currency)s a piece") % {
        "supplier": line.price.supplier,
        "price": number(float(line.price.unit_price), 2),
        "currency": line.price.currency,
    }


def _cost(line: LineToday) -> str:
    if not line.buy or line.price is None or line.cost is None:
        return ""
    return f"{number(float(line.cost), 2)} {line.price.currency}"


def _transfer(line: LineToday) -> str:
    if line.spare is None:
        return ""
    return _("%(depot)s has %(n)s more than it orders up to") % {
        "depot": line.spare.depot,
        "n": number(line.spare.pieces),
    }


def _transfer_url(line: LineToday) -> str:
    """The form for a transfer, filled in with this proposal."""
    if line.spare is None:
        return ""
    return reverse(
        "transfer-new",
        args=[line.spare.depot.code, line.part.part_number],
        query={"to": line.row.depot.code, "quantity": line.spare.pieces},
    )
