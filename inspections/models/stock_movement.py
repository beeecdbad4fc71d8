"""The ledger of stock: every piece that came or went, one row after the other."""

from __future__ import annotations

from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Part
from inspections.models.order_receipt import OrderReceipt
from inspections.models.part_return import PartReturn
from inspections.models.part_used import PartUsed
from inspections.models.stock_count import StockCount
from inspections.models.stock_lot import StockLot
from inspections.models.stock_place import StockPlace
from inspections.models.stock_transfer import StockTransfer


class MovementKind(models.TextChoices):
    """Why pieces came or went."""

    RECEIPT = "receipt", _("delivery")
    ISSUE = "issue", _("taken for work")
    RETURN = "return", _("brought back unused")
    SENT = "sent", _("sent to another place")
    ARRIVED = "arrived", _("came from another place")
    COUNT = "count", _("count")
    WRITE_OFF = "write_off", _("written off")
    SENT_BACK = "sent_back", _("sent back to the supplier")
    CORRECTION = "correction", _("correction")


# After one of these it is known what lies there.
MAKES_KNOWN = (
    MovementKind.RECEIPT,
    MovementKind.RETURN,
    MovementKind.ARRIVED,
    MovementKind.COUNT,
)
SAYS_WHY = (MovementKind.WRITE_OFF, MovementKind.CORRECTION)


class AppendOnlyError(TypeError):
    """A movement is never changed or deleted: a counter movement takes it back."""


class StockMovementQuerySet(models.QuerySet["StockMovement"]):
    """Movements by the page's question."""

    def update(self, **_columns: Any) -> int:
        """Refuse: a movement is never changed."""
        raise AppendOnlyError("a movement of stock is never changed: write a counter movement")

    def delete(self) -> tuple[int, dict[str, int]]:
        """Refuse: the ledger only grows."""
        raise AppendOnlyError("a movement of stock is never deleted: write a counter movement")

    def of(self, place: StockPlace, part: Part) -> Self:
        """One part at one place, in the order written."""
        return self.filter(place=place, part=part).order_by("sequence")

    def at_depot(self, depot: Depot, part: Part) -> Self:
        """One part at every place of a depot, the last written first, with what they rest on."""
        rows = self.filter(place__depot=depot, part=part).select_related(
            "place__depot", "lot", "entered_by", "part_used__door", "door", "receipt__line__order",
            "receipt__supplier", "transfer__from_place__depot", "transfer__to_place__depot",
            "stock_count", "part_return", "reverses", "reversal",
        )  # fmt: skip
        return rows.order_by("-pk")


class StockMovement(models.Model):
    """Pieces that came (above zero) or went (below zero), and what the place held afterwards.

    Movements of a place and part are numbered without a gap. A movement dated before a count that
    is on record is followed by one that takes it out again at the count: the count has seen it.
    """

    place = models.ForeignKey(
        StockPlace, models.PROTECT, related_name="stock_movements", verbose_name=_("place")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="stock_movements", verbose_name=_("part")
    )
    sequence = models.PositiveIntegerField(_("number"))
    kind = models.CharField(_("kind"), max_length=10, choices=MovementKind)
    quantity = models.IntegerField(_("pieces"))
    balance_after = models.IntegerField(_("on hand afterwards, pieces"))
    is_beyond_record = models.BooleanField(_("more than the record knew of"), default=False)
    lot = models.ForeignKey(
        StockLot,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("lot"),
    )
    moved_at = models.DateTimeField(_("moved at"))
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    reason = models.CharField(_("reason"), max_length=200, blank=True)
    door = models.ForeignKey(
        DoorUnit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("door"),
    )
    part_used = models.ForeignKey(
        PartUsed,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("part used"),
    )
    stock_count = models.ForeignKey(
        StockCount,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("count"),
    )
    receipt = models.ForeignKey(
        OrderReceipt,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("delivery"),
    )
    transfer = models.ForeignKey(
        StockTransfer,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("transfer"),
    )
    part_return = models.ForeignKey(
        PartReturn,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_movements",
        verbose_name=_("claim"),
    )
    reverses = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="reversal",
        verbose_name=_("takes back"),
    )

    objects = StockMovementQuerySet.as_manager()

    class Meta:
        ordering = ("place", "part", "sequence")
        verbose_name = _("movement of stock")
        verbose_name_plural = _("movements of stock")
        indexes = (models.Index(fields=("part", "moved_at"), name="stock_movement_history"),)
        constraints = (
            models.UniqueConstraint(
                fields=("place", "part", "sequence"), name="stock_movement_in_order"
            ),
            models.CheckConstraint(
                condition=Q(kind=MovementKind.COUNT) | ~Q(quantity=0),
                name="stock_movement_moves_something",
            ),
            models.CheckConstraint(
                condition=Q(balance_after__gte=0) | Q(is_beyond_record=True),
                name="stock_movement_below_zero_is_flagged",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=SAYS_WHY) | ~Q(reason=""),
                name="stock_movement_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(kind=MovementKind.COUNT) | Q(stock_count__isnull=False),
                name="stock_movement_count_has_its_count",
            ),
        )

    def __str__(self) -> str:
        return f"{self.place} · {self.part} · {self.quantity:+d}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new row; one that stands is never written again."""
        if not self._state.adding:
            raise AppendOnlyError("a movement of stock is never changed: write a counter movement")
        super().save(*args, **kwargs)

    def delete(self, *_args: Any, **_kwargs: Any) -> tuple[int, dict[str, int]]:
        """Refuse: the ledger only grows."""
        raise AppendOnlyError("a movement of stock is never deleted: write a counter movement")
