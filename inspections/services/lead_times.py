"""Days from order to delivery, as deliveries tell them, against what was quoted."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from statistics import fmean, pstdev

from fleetdoors.models import Part
from inspections.models import OrderReceipt, Supplier

DAY_SECONDS = 86_400


@dataclass(frozen=True)
class LeadTimes:
    """How long deliveries of a part took, in days; `late` came after the day named for them."""

    part: Part
    days: list[float]
    quoted_days: float | None
    late: int

    @property
    def mean_days(self) -> float:
        """Mean days from order to delivery."""
        return fmean(self.days)

    @property
    def spread_days(self) -> float:
        """Standard deviation of the days."""
        return pstdev(self.days)

    @property
    def longest_days(self) -> float:
        """The slowest delivery."""
        return max(self.days)


def lead_times(*, supplier: Supplier | None = None) -> list[LeadTimes]:
    """By part, of one supplier or of all; a delivery in parts counts as often; queries once."""
    receipts = OrderReceipt.objects.in_force().filter(line__isnull=False).select_related(
        "part", "line__order__depot"
    )  # fmt: skip
    if supplier:
        receipts = receipts.filter(line__order__supplier=supplier)
    by_part: defaultdict[int, list[OrderReceipt]] = defaultdict(list)
    for receipt in receipts.order_by("part__name", "received_at", "pk"):
        by_part[receipt.part_id].append(receipt)
    return [_of_part(rows) for rows in by_part.values()]


def _of_part(receipts: list[OrderReceipt]) -> LeadTimes:
    quoted = [each.line.quoted_lead_days for each in receipts if each.line]
    known = [days for days in quoted if days is not None]
    return LeadTimes(
        part=receipts[0].part,
        days=[days_taken(receipt) for receipt in receipts],
        quoted_days=known[-1] if known else None,
        late=sum(_was_late(receipt) for receipt in receipts),
    )


def days_taken(receipt: OrderReceipt) -> float:
    """Days from placing the order to the delivery."""
    placed_at = receipt.line.order.placed_at if receipt.line else None
    if placed_at is None:
        raise ValueError("only a delivery of a placed order has a lead time")
    return max((receipt.received_at - placed_at).total_seconds() / DAY_SECONDS, 0.0)


def _was_late(receipt: OrderReceipt) -> bool:
    line = receipt.line
    if line is None or line.expected_on is None:
        return False
    zone = line.order.depot.zone
    return receipt.received_at.astimezone(zone).date() > line.expected_on
