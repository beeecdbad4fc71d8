"""What to order today: how many, why, when the shelf would be empty otherwise, and how sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np
from django.utils.translation import gettext as _

from analytics.datasets.columns import Floats
from analytics.kernel.count_distribution import match_counts
from analytics.models import PartOutlook
from analytics.reports.basis import Basis
from analytics.reports.part_classes import PartClass, classes_of
from analytics.reports.part_order import reserved_of
from analytics.reports.part_words import method_words, run_out_note, run_out_words
from fleetdoors.models import Depot, Part
from fleetdoors.templatetags.units import number, per_cent
from inspections.models import OrderLine, SupplierPrice

MOST_LINES = 200


@dataclass(frozen=True)
class SpareAt:
    """Pieces that another depot has beyond the level it orders up to."""

    depot: Depot
    pieces: int


@dataclass(frozen=True)
class LineToday:
    """One part to get for one depot: from another depot first, the rest from a supplier."""

    row: PartOutlook
    klass: PartClass
    short_chance: float
    spare: SpareAt | None
    price: SupplierPrice | None
    buy: int
    written: OrderLine | None

    @property
    def part(self) -> Part:
        """The part wanted."""
        return self.row.part

    @property
    def key(self) -> str:
        """What a form calls this line."""
        return f"{self.row.part_id}-{self.row.depot_id}"

    @property
    def cost(self) -> Decimal | None:
        """Money for what is to be bought, None where no price is known."""
        return None if self.price is None else self.price.unit_price * self.buy

    def reason(self, today: date) -> str:
        """Why now, in a sentence."""
        row = self.row
        note = run_out_note(row, today)
        out = run_out_words(row, today)
        return _(
            "On hand %(hand)s, on order %(order)s, kept %(kept)s: at or below %(point)s. "
            "Otherwise empty about: %(out)s%(note)s. Chance of being short before an order placed "
            "today is here: %(chance)s. Basis: %(method)s."
        ) % {
            "hand": number(row.on_hand),
            "order": number(row.on_order),
            "kept": number(reserved_of(row)),
            "point": number(row.reorder_point),
            "out": out,
            "note": f", {note}" if note else "",
            "chance": per_cent(self.short_chance),
            "method": method_words(row),
        }


@dataclass(frozen=True)
class OrdersToday:
    """The lines, soonest empty first; `beyond` counts those that are not shown."""

    lines: list[LineToday]
    beyond: int


def orders_today(depot_ids: tuple[int, ...] | None, basis: Basis) -> OrdersToday:
    """What to get today for the depots in sight; runs a constant number of queries."""
    shelves = PartOutlook.objects.filter(generation=basis.run).at_depots(depot_ids)
    wanted = shelves.to_order().with_links().soonest_out_first()
    rows = list(wanted[: MOST_LINES + 1])
    shown = rows[:MOST_LINES]
    same_parts = list(shelves.filter(part__in={row.part_id for row in shown}).with_links())
    classes = classes_of(same_parts)
    spare = _spare_by_part(same_parts)
    prices = _prices({row.part_id for row in shown}, basis.today)
    written = _being_written(shown)
    chances = short_chances(shown)
    lines = [
        _line(
            row,
            classes[row.part_id],
            float(chances[k]),
            spare,
            prices.get(row.part_id),
            written=written.get((row.part_id, row.depot_id)),
        )
        for k, row in enumerate(shown)
    ]
    beyond = wanted.count() - len(shown) if len(rows) > MOST_LINES else 0
    return OrdersToday(lines, beyond)


def short_chances(rows: Sequence[PartOutlook]) -> Floats:
    """Chance that need over one mean lead time exceeds what is on hand and coming, (n,)."""
    if not rows:
        return np.zeros(0)
    share = np.array([_lead_days(row) / row.horizon_days for row in rows])
    mean = np.array([row.mean for row in rows]) * share
    # Not knowing the level grows with the square of the time, chance alone in proportion to it.
    beyond_chance = np.array([max(row.variance - row.mean, 0.0) for row in rows]) * share**2
    there = np.array([(row.on_hand or 0) + (row.on_order or 0) - reserved_of(row) for row in rows])
    need = match_counts(mean, mean + beyond_chance)
    chances: Floats = np.where(there < 0, 1.0, 1.0 - need.cdf(np.maximum(there, 0)))
    return chances


def _lead_days(row: PartOutlook) -> float:
    return float(row.explanation.get("lead_days") or 0.0)


def _line(
    row: PartOutlook,
    klass: PartClass,
    chance: float,
    spare: dict[int, list[SpareAt]],
    price: SupplierPrice | None,
    *,
    written: OrderLine | None,
) -> LineToday:
    wanted = row.suggested_order or 0
    offers = [each for each in spare.get(row.part_id, []) if each.depot.pk != row.depot_id]
    best = max(offers, key=lambda each: each.pieces, default=None)
    taken = None if best is None else SpareAt(best.depot, min(best.pieces, wanted))
    if taken and best:
        # What one line takes is not offered to the next.
        offers_of_part = spare[row.part_id]
        offers_of_part[offers_of_part.index(best)] = SpareAt(best.depot, best.pieces - taken.pieces)
        taken = taken if taken.pieces else None
    rest = wanted - (taken.pieces if taken else 0)
    buy = price.fitting_quantity(rest) if price and rest else rest
    return LineToday(row, klass, chance, taken, price, buy, written)


def _spare_by_part(rows: list[PartOutlook]) -> dict[int, list[SpareAt]]:
    """What lies at each depot beyond its own level, by part."""
    found: dict[int, list[SpareAt]] = {}
    for row in rows:
        pieces = (row.on_hand or 0) - reserved_of(row) - row.order_up_to
        if pieces > 0:
            found.setdefault(row.part_id, []).append(SpareAt(row.depot, pieces))
    return found


def _prices(parts: set[int], today: date) -> dict[int, SupplierPrice]:
    """The cheapest price of each part on the day; queries once."""
    cheapest: dict[int, SupplierPrice] = {}
    for price in SupplierPrice.objects.on_day(today).filter(part__in=parts):
        cheapest.setdefault(price.part_id, price)
    return cheapest


def _being_written(rows: list[PartOutlook]) -> dict[tuple[int, int], OrderLine]:
    """By part and depot: the line of an order that is written and not placed; queries once."""
    lines = OrderLine.objects.being_written().filter(
        part__in={row.part_id for row in rows}, order__depot__in={row.depot_id for row in rows}
    )
    return {(line.part_id, line.order.depot_id): line for line in lines.with_links()}
