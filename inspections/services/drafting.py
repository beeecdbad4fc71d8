"""Many wanted parts become orders being written: one for each supplier and depot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleetdoors.models import Depot, User
from inspections.models import OrderState, PurchaseOrder, Supplier
from inspections.services.ordering import Wanted, put_on_order, write_order


@dataclass(frozen=True)
class WantedFrom:
    """Pieces wanted at a depot, from a supplier."""

    supplier: Supplier
    depot: Depot
    wanted: Wanted


@dataclass(frozen=True)
class Drafted:
    """Orders that were begun, and orders being written already that took more lines."""

    begun: list[PurchaseOrder]
    added_to: list[PurchaseOrder]

    @property
    def orders(self) -> list[PurchaseOrder]:
        """All of them, by number."""
        return sorted((*self.begun, *self.added_to), key=lambda order: order.number)


@transaction.atomic
def draft_orders(
    *, lines: Sequence[WantedFrom], entered_at: datetime, entered_by: User | None
) -> Drafted:
    """Write the lines on orders, all or none; an order being written takes further lines."""
    by_order: dict[tuple[int, int], list[WantedFrom]] = {}
    for line in lines:
        by_order.setdefault((line.supplier.pk, line.depot.pk), []).append(line)
    begun, added_to = [], []
    for group in by_order.values():
        before = _being_written(group[0])
        if before is None:
            begun.append(_begin(group, entered_at, entered_by))
            continue
        today = entered_at.astimezone(before.depot.zone).date()
        for line in group:
            put_on_order(order=before, wanted=line.wanted, today=today)
        added_to.append(before)
    return Drafted(begun, added_to)


def _begin(group: list[WantedFrom], entered_at: datetime, entered_by: User | None) -> PurchaseOrder:
    return write_order(
        supplier=group[0].supplier,
        depot=group[0].depot,
        wanted=[line.wanted for line in group],
        entered_at=entered_at,
        entered_by=entered_by,
    )


def _being_written(line: WantedFrom) -> PurchaseOrder | None:
    """The latest order to the supplier for the depot that nobody has placed yet."""
    return (
        PurchaseOrder.objects.filter(
            supplier=line.supplier, depot=line.depot, state=OrderState.DRAFT
        )
        .select_related("depot", "supplier")
        .order_by("-entered_at", "-pk")
        .first()
    )
