"""What lies at a depot now, what is on its way, and what of it is spoken for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery, Sum

from fleetdoors.models import Depot, Part
from inspections.models import (
    OrderLine,
    OrderReceipt,
    PartReservation,
    PlaceKind,
    StockBalance,
    StockCount,
    StockLot,
    StockMovement,
    StockPlace,
    StockTransfer,
)


@dataclass(frozen=True)
class StockNow:
    """A part at a depot; taken beyond the record, `on_hand` is below zero.

    `on_hand` is what can be fitted: the shelf and the vans, not what is set aside. `count` is the
    shelf's latest, None where pieces came without one.
    """

    part: Part
    count: StockCount | None
    on_hand: int
    in_vans: int
    ordered: int
    arriving: int
    expected_on: date | None
    reserved: int
    needs_count: bool

    @property
    def on_order(self) -> int:
        """Pieces that are still to come: from suppliers and from other depots."""
        return self.ordered + self.arriving

    @property
    def position(self) -> int:
        """On hand and on order, less what is spoken for."""
        return self.on_hand + self.on_order - self.reserved

    @property
    def since_count(self) -> int | None:
        """Pieces that came (above zero) or went since the shelf's latest count."""
        return None if self.count is None else self.on_hand - self.in_vans - self.count.on_hand


def on_hand_now(*, depot: Depot, part: Part) -> StockNow | None:
    """One part at one depot, None where it was never counted or delivered; queries."""
    return next(iter(stock_of(depot=depot, parts=Part.objects.filter(pk=part.pk))), None)


def stock_of(*, depot: Depot, parts: QuerySet[Part]) -> list[StockNow]:
    """The parts ever counted at the depot or brought there, by number; queries a few times."""
    balances: dict[int, list[StockBalance]] = {}
    rows = StockBalance.objects.at_depot(depot).for_work().filter(part__in=parts).with_links()
    for balance in rows:
        balances.setdefault(balance.part_id, []).append(balance)
    counts = {count.part_id: count for count in _latest_counts(depot, parts)}
    coming = _coming(depot, parts, counts)
    reserved = _sums(PartReservation.objects.standing().filter(depot=depot), "quantity")
    return [
        _stock(each, counts.get(part), coming.get(part, _NOTHING), reserved.get(part, 0))
        for part, each in balances.items()
        if any(balance.is_known for balance in each)
    ]


@dataclass(frozen=True)
class LotLeft:
    """What should be left of a lot at a place."""

    place: StockPlace
    lot: StockLot
    pieces: int
    is_past: bool


def lots_at(*, depot: Depot, part: Part, today: date) -> list[LotLeft]:
    """Lots with pieces left at the depot, the one to be used up first before; queries thrice."""
    rows = (
        StockMovement.objects.filter(place__depot=depot, part=part, lot__isnull=False)
        .order_by()
        .values_list("place", "lot")
        .annotate(left=Sum("quantity"))
    )
    left = [row for row in rows if row[2] > 0]
    places = StockPlace.objects.select_related("depot").in_bulk([row[0] for row in left])
    lots = StockLot.objects.in_bulk([row[1] for row in left])
    found = [
        LotLeft(places[place], lots[lot], pieces, lots[lot].is_past(today))
        for place, lot, pieces in left
    ]
    return sorted(found, key=lambda each: (each.lot.use_by_on or date.max, each.lot.number))


@dataclass(frozen=True)
class _Coming:
    """Pieces on the way to a depot, and the first day of any."""

    ordered: int = 0
    arriving: int = 0
    expected_on: date | None = None


_NOTHING = _Coming()


def _stock(
    balances: list[StockBalance], count: StockCount | None, coming: _Coming, reserved: int
) -> StockNow:
    in_vans = sum(each.on_hand for each in balances if each.place.kind == PlaceKind.VAN)
    return StockNow(
        part=balances[0].part,
        count=count,
        on_hand=sum(each.on_hand for each in balances),
        in_vans=in_vans,
        ordered=coming.ordered,
        arriving=coming.arriving,
        expected_on=coming.expected_on,
        reserved=reserved,
        needs_count=any(each.needs_count for each in balances),
    )


def _latest_counts(depot: Depot, parts: QuerySet[Part]) -> Iterable[StockCount]:
    """The latest count of each part on the depot's shelf."""
    latest = (
        StockCount.objects.in_force()
        .filter(depot=depot, part=OuterRef("part"), place__isnull=True)
        .order_by("-counted_at")
        .values("pk")[:1]
    )
    return StockCount.objects.filter(depot=depot, part__in=parts, pk=Subquery(latest)).order_by(
        "part__part_number"
    )


def _coming(
    depot: Depot, parts: QuerySet[Part], counts: dict[int, StockCount]
) -> dict[int, _Coming]:
    """By part: what suppliers owe, what a count noted as ordered elsewhere, and transfers."""
    lines: dict[int, list[OrderLine]] = {}
    waiting = OrderLine.objects.outstanding().filter(order__depot=depot, part__in=parts)
    for line in waiting.order_by("pk"):
        lines.setdefault(line.part_id, []).append(line)
    noted = {part: count for part, count in counts.items() if count.on_order}
    came = _came_unordered(depot)
    moving = StockTransfer.objects.on_the_way().filter(to_place__depot=depot)
    on_the_way = _sums(moving.exclude(to_place__kind=PlaceKind.SET_ASIDE), "quantity")
    return {
        part: _coming_of(
            lines.get(part, []), noted.get(part), came.get(part, []), on_the_way.get(part, 0)
        )
        for part in {*lines, *noted, *on_the_way}
    }


def _coming_of(
    lines: list[OrderLine],
    noted: StockCount | None,
    came: list[OrderReceipt],
    on_the_way: int,
) -> _Coming:
    days = [line.expected_on for line in lines if line.expected_on]
    pieces = sum(line.outstanding for line in lines)
    if noted:
        since = sum(each.quantity for each in came if each.received_at > noted.counted_at)
        elsewhere = max(noted.on_order - since, 0)
        pieces += elsewhere
        if elsewhere and noted.expected_on:
            days.append(noted.expected_on)
    return _Coming(pieces, on_the_way, min(days, default=None))


def _came_unordered(depot: Depot) -> dict[int, list[OrderReceipt]]:
    """Deliveries without an order of ours, by part: they use up what a count noted."""
    came: dict[int, list[OrderReceipt]] = {}
    for receipt in OrderReceipt.objects.in_force().filter(line__isnull=True, place__depot=depot):
        came.setdefault(receipt.part_id, []).append(receipt)
    return came


def _sums(rows: QuerySet[Any], column: str) -> dict[int, int]:
    """Pieces by part; queries once."""
    grouped = rows.order_by().values_list("part").annotate(total=Sum(column))
    return dict(grouped)
