"""What the ledger says lies at a place: one row for each part, locked by whoever writes."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from inspections.models.stock_place import FOR_WORK, StockPlace


class StockBalanceQuerySet(models.QuerySet["StockBalance"]):
    """Balances by the page's question."""

    def at_depot(self, depot: Depot) -> Self:
        """Every place of the depot."""
        return self.filter(place__depot=depot)

    def for_work(self) -> Self:
        """Pieces that can be fitted: on shelves and in vans."""
        return self.filter(place__kind__in=FOR_WORK)

    def with_links(self) -> Self:
        """With part and place, by part number and place."""
        rows = self.select_related("part", "place__depot")
        return rows.order_by("part__part_number", "place__kind", "place__name", "pk")


class StockBalance(models.Model):
    """The sum of the movements of a part at a place.

    Below zero only under a flag: more was taken than the record knew of, so it has to be counted.
    """

    place = models.ForeignKey(
        StockPlace, models.PROTECT, related_name="balances", verbose_name=_("place")
    )
    part = models.ForeignKey(Part, models.PROTECT, related_name="balances", verbose_name=_("part"))
    on_hand = models.IntegerField(_("on hand, pieces"), default=0)
    movements = models.PositiveIntegerField(_("movements"), default=0)
    # A draw alone does not tell what lies there: only a count or a delivery does.
    is_known = models.BooleanField(_("was counted or delivered"), default=False)
    needs_count = models.BooleanField(_("has to be counted"), default=False)
    bin = models.CharField(_("bin"), max_length=40, blank=True)

    objects = StockBalanceQuerySet.as_manager()

    class Meta:
        ordering = ("place", "part")
        verbose_name = _("stock at a place")
        verbose_name_plural = _("stock at places")
        constraints = (
            models.UniqueConstraint(fields=("place", "part"), name="stock_balance_once"),
            models.CheckConstraint(
                condition=Q(on_hand__gte=0) | Q(needs_count=True),
                name="stock_balance_below_zero_is_flagged",
            ),
        )

    def __str__(self) -> str:
        return f"{self.place} · {self.part} · {self.on_hand}"
