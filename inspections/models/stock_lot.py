"""Lots: pieces of one part that came together and age together."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Part


class StockLot(models.Model):
    """A lot as marked on the packing: its number, revision, and the last day of use."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="lots", verbose_name=_("part"))
    number = models.CharField(_("lot"), max_length=80)
    revision = models.CharField(_("revision"), max_length=40, blank=True)
    made_on = models.DateField(_("made on"), null=True, blank=True)
    use_by_on = models.DateField(_("use by"), null=True, blank=True)

    class Meta:
        ordering = ("part", "use_by_on", "number")
        verbose_name = _("lot")
        verbose_name_plural = _("lots")
        constraints = (
            models.UniqueConstraint(fields=("part", "number"), name="stock_lot_once"),
            models.CheckConstraint(
                condition=models.Q(made_on__isnull=True)
                | models.Q(use_by_on__isnull=True)
                | models.Q(use_by_on__gte=models.F("made_on")),
                name="stock_lot_made_before_use_by",
            ),
        )

    def __str__(self) -> str:
        return self.number

    def is_past(self, today: date) -> bool:
        """Whether its last day of use is over."""
        return self.use_by_on is not None and self.use_by_on < today
