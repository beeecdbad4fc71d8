"""What lies at a depot now, what comes, and what of it is spoken for; and how it is counted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Sum
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, Part, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import (
    OrderReceipt,
    PlaceKind,
    StockBalance,
    StockCount,
    StockMovement,
    StockPlace,
)
from inspections.moments import in_words
from inspections.services.corrections import sign, supersede
from inspections.services.ledger import hold_depots
from inspections.services.ledger_record import book_count

REPEATED = "counted again"


class StockCountRefusedError(ValueError):
    """The count cannot be true; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Counted:
    """What a person counted and knows to be ordered elsewhere; None keeps what was said before."""

    on_hand: int
    on_order: int | None = 0
    expected_on: date | None = None
    service_level: float | None = None
    difference_reason: str = ""


@transaction.atomic
def record_count(
    *,
    depot: Depot,
    part: Part,
    counted_at: datetime,
    counted: Counted,
    entered_at: datetime,
    entered_by: User | None = None,
    place: StockPlace | None = None,
) -> StockCount:
    """Keep a count and take it into the ledger; a second one for the moment corrects the first.

    Without a place it is the depot's shelf that was counted.
    """
    hold_depots([depot])
    _check(counted, counted_at, entered_at)
    place = None if place and place.kind == PlaceKind.SHELF else place
    before = StockCount.objects.in_force().filter(depot=depot, part=part, place=place)
    latest = before.order_by("-counted_at").first()
    level = counted.service_level or (latest.service_level if latest else None)
    same_moment = before.filter(counted_at=counted_at).first()
    new = StockCount(
        depot=depot,
        part=part,
        place=place,
        counted_at=counted_at,
        on_hand=counted.on_hand,
        service_level=level,
        difference_reason=counted.difference_reason.strip()[:200],
    )
    _note_ordered(new, counted, latest)
    if same_moment and _says(same_moment) == _says(new):
        return same_moment
    if same_moment:
        supersede(same_moment, reason=REPEATED, entered_at=entered_at)
    reason = REPEATED if same_moment else ""
    sign(new, corrects=same_moment, reason=reason, by=entered_by, at=entered_at)
    new.save()
    book_count(new)
    shelves_changed()
    return new


def _note_ordered(new: StockCount, counted: Counted, latest: StockCount | None) -> None:
    """What is ordered elsewhere: as told, or else what is left of what was noted before."""
    new.on_order, new.expected_on = counted.on_order or 0, counted.expected_on
    if counted.on_order is not None or latest is None or not latest.on_order:
        return
    came = OrderReceipt.objects.in_force().filter(
        line__isnull=True,
        part=new.part,
        place__depot=new.depot,
        received_at__gt=latest.counted_at,
        received_at__lte=new.counted_at,
    )
    since = came.aggregate(total=Sum("quantity"))["total"] or 0
    new.on_order = max(latest.on_order - since, 0)
    new.expected_on = latest.expected_on if new.on_order else None


def difference_from_record(
    *, place: StockPlace, part: Part, counted: int, counted_at: datetime
) -> int:
    """By how many pieces a count is above (or below zero: under) the record; queries.

    The first count of a part at a place has nothing to differ from.
    """
    if not StockBalance.objects.filter(place=place, part=part, is_known=True).exists():
        return 0
    seen = StockMovement.objects.filter(place=place, part=part, moved_at__lte=counted_at)
    return counted - (seen.aggregate(total=Sum("quantity"))["total"] or 0)


def _says(count: StockCount) -> list[object]:
    return [count.on_hand, count.on_order, count.expected_on, count.service_level]


def _check(counted: Counted, counted_at: datetime, entered_at: datetime) -> None:
    if counted_at > entered_at:
        raise StockCountRefusedError(
            _("A count is not dated ahead: %(moment)s is in the future.")
            % {"moment": in_words(counted_at)},
            field="counted_at",
        )
    for field in ("on_hand", "on_order"):
        quantity = getattr(counted, field)
        if quantity is not None and quantity < 0:
            raise StockCountRefusedError(
                _("A quantity is 0 or more: %(quantity)d was entered.") % {"quantity": quantity},
                field=field,
            )
    level = counted.service_level
    if level is not None and not 0.5 <= level <= 0.9999:
        raise StockCountRefusedError(
            _("A service level lies between 0.5 and 0.9999: %(level)s was entered.")
            % {"level": level},
            field="service_level",
        )
