"""Stock is counted; what lies there now is the latest count less what was drawn since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import OuterRef, QuerySet, Subquery, Sum
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, Part, User
from fleetdoors.services.recomputation import shelves_changed
from inspections.models import PartUsed, StockCount
from inspections.services.corrections import sign, supersede

REPEATED = "counted again"


class StockCountRefusedError(ValueError):
    """The count cannot be true; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Counted:
    """What a person counted and knows to be on order; no service level keeps the one before."""

    on_hand: int
    on_order: int = 0
    expected_on: date | None = None
    service_level: float | None = None


@dataclass(frozen=True)
class StockNow:
    """A part on the shelf of a depot; drawn beyond the count, `on_hand` is below zero."""

    part: Part
    count: StockCount
    drawn: int

    @property
    def on_hand(self) -> int:
        """Pieces that should lie there now."""
        return self.count.on_hand - self.drawn


@transaction.atomic
def record_count(
    *,
    depot: Depot,
    part: Part,
    counted_at: datetime,
    counted: Counted,
    entered_at: datetime,
    entered_by: User | None = None,
) -> StockCount:
    """Keep a count; a second one for the same moment corrects the first."""
    Depot.objects.select_for_update().get(pk=depot.pk)
    _check(counted, counted_at, entered_at)
    before = StockCount.objects.in_force().filter(depot=depot, part=part)
    latest = before.order_by("-counted_at").first()
    level = counted.service_level or (latest.service_level if latest else None)
    same_moment = before.filter(counted_at=counted_at).first()
    new = StockCount(
        depot=depot,
        part=part,
        counted_at=counted_at,
        on_hand=counted.on_hand,
        on_order=counted.on_order,
        expected_on=counted.expected_on,
        service_level=level,
    )
    if same_moment:
        if _says(same_moment) == _says(new):
            return same_moment
        supersede(same_moment, reason=REPEATED, entered_at=entered_at)
    sign(
        new,
        corrects=same_moment,
        reason=REPEATED if same_moment else "",
        by=entered_by,
        at=entered_at,
    )
    new.save()
    shelves_changed()
    return new


def on_hand_now(*, depot: Depot, part: Part) -> StockNow | None:
    """One part at one depot, None where it was never counted; queries."""
    return next(iter(stock_of(depot=depot, parts=Part.objects.filter(pk=part.pk))), None)


def stock_of(*, depot: Depot, parts: QuerySet[Part]) -> list[StockNow]:
    """The parts that were ever counted at the depot, by part number; queries once."""
    drawn = (
        PartUsed.objects.in_force()
        .filter(
            draws_on_stock=True,
            depot=OuterRef("depot"),
            part=OuterRef("part"),
            used_at__gt=OuterRef("counted_at"),
        )
        .order_by()
        .values("part")
        .annotate(total=Sum("quantity"))
        .values("total")
    )
    latest = (
        StockCount.objects.in_force()
        .filter(depot=depot, part=OuterRef("part"))
        .order_by("-counted_at")
        .values("pk")[:1]
    )
    counts = (
        StockCount.objects.filter(depot=depot, part__in=parts, pk=Subquery(latest))
        .annotate(drawn=Subquery(drawn))
        .select_related("part")
        .order_by("part__part_number")
    )
    return [StockNow(part=count.part, count=count, drawn=count.drawn or 0) for count in counts]


def _says(count: StockCount) -> list[object]:
    return [count.on_hand, count.on_order, count.expected_on, count.service_level]


def _check(counted: Counted, counted_at: datetime, entered_at: datetime) -> None:
    if counted_at > entered_at:
        raise StockCountRefusedError(
            _("A count is not dated ahead: %(moment)s is in the future.")
            % {"moment": counted_at.strftime("%Y-%m-%d %H:%M")},
            field="counted_at",
        )
    for field in ("on_hand", "on_order"):
        quantity = getattr(counted, field)
        if quantity < 0:
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
