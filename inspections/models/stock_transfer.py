"""Pieces on their way from one place to another: they leave, and later they arrive."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from inspections.models.stock_place import StockPlace

if TYPE_CHECKING:
    from fleetdoors.models import User


class StockTransferQuerySet(models.QuerySet["StockTransfer"]):
    """Transfers by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Transfers that leave from or go to a depot that the person may see."""
        depots = Depot.objects.visible_to(user)
        return self.filter(Q(from_place__depot__in=depots) | Q(to_place__depot__in=depots))

    def on_the_way(self) -> Self:
        """Sent, and neither arrived nor given up."""
        return self.filter(ended_at__isnull=True)

    def with_links(self) -> Self:
        """With part and places; those on the way first, then the latest."""
        rows = self.select_related(
            "part", "from_place__depot", "to_place__depot", "sent_by", "ended_by"
        )
        return rows.order_by(F("ended_at").desc(nulls_first=True), "-sent_at", "-pk")


class StockTransfer(models.Model):
    """Pieces of one part sent from a place to another; what did not arrive says why."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="transfers", verbose_name=_("part"))
    from_place = models.ForeignKey(
        StockPlace, models.PROTECT, related_name="transfers_out", verbose_name=_("from")
    )
    to_place = models.ForeignKey(
        StockPlace, models.PROTECT, related_name="transfers_in", verbose_name=_("to")
    )
    quantity = models.PositiveIntegerField(_("pieces"))
    sent_at = models.DateTimeField(_("sent at"))
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("sent by"),
    )
    note = models.CharField(_("note"), max_length=200, blank=True)
    arrived = models.PositiveIntegerField(_("arrived, pieces"), null=True, blank=True)
    ended_at = models.DateTimeField(_("arrived at"), null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("received by"),
    )
    shortfall_reason = models.CharField(_("why pieces are missing"), max_length=200, blank=True)

    objects = StockTransferQuerySet.as_manager()

    class Meta:
        ordering = ("-sent_at", "-pk")
        verbose_name = _("transfer")
        verbose_name_plural = _("transfers")
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="transfer_at_least_one"),
            models.CheckConstraint(
                condition=~Q(from_place=F("to_place")), name="transfer_goes_elsewhere"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, arrived__isnull=True)
                | Q(ended_at__isnull=False, arrived__isnull=False),
                name="transfer_ended_says_how_many",
            ),
            models.CheckConstraint(
                condition=Q(arrived__isnull=True) | Q(arrived__lte=F("quantity")),
                name="transfer_arrives_at_most_what_left",
            ),
            models.CheckConstraint(
                condition=Q(arrived__isnull=True)
                | Q(arrived=F("quantity"))
                | ~Q(shortfall_reason=""),
                name="transfer_shortfall_says_why",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("sent_at")),
                name="transfer_arrives_after_it_left",
            ),
        )

    def __str__(self) -> str:
        return f"{self.part} · {self.from_place} → {self.to_place}"

    @property
    def is_on_the_way(self) -> bool:
        """Whether it is neither here nor there."""
        return self.ended_at is None
