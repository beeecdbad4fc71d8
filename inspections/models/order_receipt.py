"""Deliveries: what came of an order line, or without one, and what came with the bill."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part
from inspections.models.purchase_order import OrderLine, PurchaseOrder
from inspections.models.stock_lot import StockLot
from inspections.models.stock_place import StockPlace
from inspections.models.supplier import Supplier


class OrderReceiptQuerySet(models.QuerySet["OrderReceipt"]):
    """Deliveries by the page's question."""

    def in_force(self) -> Self:
        """Deliveries that were not taken back."""
        return self.filter(taken_back_at__isnull=True)

    def with_links(self) -> Self:
        """With part, line, order, lot and place, the latest first."""
        rows = self.select_related(
            "part", "line__order__supplier", "supplier", "lot", "place__depot", "entered_by"
        )
        return rows.order_by("-received_at", "-pk")


class OrderReceipt(models.Model):
    """Pieces of one part that came in one delivery; damaged ones are set aside at once."""

    line = models.ForeignKey(
        OrderLine,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="receipts",
        verbose_name=_("line of an order"),
    )
    part = models.ForeignKey(Part, models.PROTECT, related_name="receipts", verbose_name=_("part"))
    place = models.ForeignKey(
        StockPlace, models.PROTECT, related_name="receipts", verbose_name=_("place")
    )
    supplier = models.ForeignKey(
        Supplier,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="receipts",
        verbose_name=_("supplier"),
    )
    received_at = models.DateTimeField(_("received at"))
    quantity = models.PositiveIntegerField(_("pieces"))
    damaged = models.PositiveIntegerField(_("of these set aside, pieces"), default=0)
    lot = models.ForeignKey(
        StockLot,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="receipts",
        verbose_name=_("lot"),
    )
    delivery_note = models.CharField(_("delivery note"), max_length=80, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    taken_back_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    taken_back_reason = models.CharField(_("why it was taken back"), max_length=200, blank=True)

    objects = OrderReceiptQuerySet.as_manager()

    class Meta:
        ordering = ("received_at", "pk")
        verbose_name = _("delivery")
        verbose_name_plural = _("deliveries")
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="receipt_at_least_one"),
            models.CheckConstraint(
                condition=Q(damaged__lte=models.F("quantity")),
                name="receipt_sets_aside_at_most_what_came",
            ),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True) | ~Q(taken_back_reason=""),
                name="receipt_taken_back_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.part} · {self.quantity} · {self.received_at:%Y-%m-%d}"


class ChargeKind(models.TextChoices):
    """What a bill holds beside the parts."""

    FREIGHT = "freight", _("freight")
    DUTY = "duty", _("duty")
    OTHER = "other", _("other")


class OrderCharge(models.Model):
    """A cost of an order beside its parts; shared out over the lines by their value."""

    order = models.ForeignKey(
        PurchaseOrder, models.PROTECT, related_name="charges", verbose_name=_("order")
    )
    kind = models.CharField(_("what for"), max_length=10, choices=ChargeKind)
    # Below zero it takes one back that was entered before.
    amount = models.DecimalField(_("amount"), max_digits=12, decimal_places=2)
    note = models.CharField(_("note"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    class Meta:
        ordering = ("order", "entered_at", "pk")
        verbose_name = _("cost beside the parts")
        verbose_name_plural = _("costs beside the parts")
        constraints = (
            models.CheckConstraint(
                condition=Q(amount__gt=0) | Q(amount__lt=0) & ~Q(note=""),
                name="order_charge_taken_back_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.order} · {self.get_kind_display()} · {self.amount}"
