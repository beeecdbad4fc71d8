"""What a shelf calls for: an order, and the day on which it is likely to be empty."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.kernel.stock import suggest_order

_RUN_OUT_WITHIN_DAYS = 730.0


@dataclass(frozen=True)
class Shelf:
    """Pieces on hand and on order (None = never counted), the day the order arrives, and pieces
    spoken for by planned work."""

    on_hand: int | None
    on_order: int | None
    arrives_day: float
    reserved: int = 0


@dataclass(frozen=True)
class Call:
    """Pieces to order now and the epoch day of running out; None = cannot be told, or not soon."""

    suggested_order: int | None
    run_out_day: float | None


def call_for(
    shelf: Shelf,
    *,
    reorder_point: int,
    order_up_to: int,
    pack: int,
    per_day: float,
    today: float,
) -> Call:
    """What to order at these levels, and when expected demand has used up the shelf."""
    if shelf.on_hand is None:
        return Call(None, None)
    coming = shelf.on_order or 0
    position = shelf.on_hand + coming - shelf.reserved
    order = int(suggest_order(position, reorder_point, order_up_to, pack))
    if per_day <= 0:
        return Call(order, None)
    # What is spoken for leaves the shelf within days.
    on_hand = max(shelf.on_hand - shelf.reserved, 0)
    empty = today + on_hand / per_day
    if coming and shelf.arrives_day <= empty:
        empty = today + (on_hand + coming) / per_day
    return Call(order, empty if empty - today <= _RUN_OUT_WITHIN_DAYS else None)
