"""What a piece really cost: its price and its share of freight, duty and the like."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Sum

from inspections.models import OrderLine, PurchaseOrder

CENT = Decimal("0.01")


@dataclass(frozen=True)
class LandedLine:
    """A line's goods, its share of the costs beside them, and what a piece comes to."""

    line: OrderLine
    pieces: int
    goods: Decimal | None
    share: Decimal
    unit_cost: Decimal | None


@dataclass(frozen=True)
class LandedOrder:
    """An order's money in its own currency; None where a line has no price."""

    lines: list[LandedLine]
    goods: Decimal | None
    charges: Decimal

    @property
    def total(self) -> Decimal | None:
        """Goods and all costs beside them."""
        return None if self.goods is None else self.goods + self.charges


def landed_cost(order: PurchaseOrder) -> LandedOrder:
    """Share the costs beside the parts out by the value of the lines; queries twice.

    Pieces called off are not in it. Without any value the costs go by pieces.
    """
    charges = order.charges.aggregate(total=Sum("amount"))["total"] or Decimal(0)
    lines = list(order.lines.select_related("part").order_by("pk"))
    pieces = [line.quantity - line.called_off for line in lines]
    goods = [
        None if line.unit_price is None else line.unit_price * count
        for line, count in zip(lines, pieces, strict=True)
    ]
    weights = [each or Decimal(0) for each in goods]
    if not sum(weights):
        weights = [Decimal(count) for count in pieces]
    return LandedOrder(
        lines=[
            _line(*each)
            for each in zip(lines, pieces, goods, shared_out(charges, weights), strict=True)
        ],
        goods=None if None in goods else sum((each or Decimal(0) for each in goods), Decimal(0)),
        charges=charges,
    )


def shared_out(amount: Decimal, weights: list[Decimal]) -> list[Decimal]:
    """Split an amount by weight to whole cents whose sum is the amount."""
    total = sum(weights, Decimal(0))
    if not total:
        return [Decimal(0) for _each in weights]
    shares, given, so_far = [], Decimal(0), Decimal(0)
    for weight in weights:
        so_far += weight
        until_here = (amount * so_far / total).quantize(CENT, ROUND_HALF_UP)
        shares.append(until_here - given)
        given = until_here
    return shares


def _line(line: OrderLine, pieces: int, goods: Decimal | None, share: Decimal) -> LandedLine:
    unit_cost = None
    if goods is not None and pieces:
        unit_cost = ((goods + share) / pieces).quantize(Decimal("0.0001"), ROUND_HALF_UP)
    return LandedLine(line, pieces, goods, share, unit_cost)
