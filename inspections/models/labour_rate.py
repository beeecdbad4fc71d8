"""What an hour of work costs at a depot, from a day on."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot
from fleetdoors.models.record import Record, RecordQuerySet


class LabourRateQuerySet(RecordQuerySet):
    """Rates by the page's question."""

    def by_depot(self) -> Self:
        """Rates in force, depot by depot, the latest first."""
        rows = self.in_force().select_related("depot", "entered_by")
        return rows.order_by("depot__code", "-from_on", "-pk")


class LabourRate(Record):
    """An hour's price at a depot, until the next one begins; a correction is a new row."""

    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="labour_rates", verbose_name=_("depot")
    )
    from_on = models.DateField(_("from"))
    per_hour = models.DecimalField(_("an hour of work costs"), max_digits=10, decimal_places=2)
    currency = models.CharField(_("currency"), max_length=3)

    objects = LabourRateQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "-from_on", "-pk")
        verbose_name = _("price of an hour")
        verbose_name_plural = _("prices of an hour")
        constraints = (
            models.CheckConstraint(condition=Q(per_hour__gte=0), name="labour_rate_not_negative"),
            models.CheckConstraint(condition=~Q(currency=""), name="labour_rate_has_a_currency"),
            models.UniqueConstraint(
                fields=("depot", "from_on"),
                condition=Q(superseded_at__isnull=True),
                name="labour_rate_one_a_day",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot.code} · {self.from_on:%Y-%m-%d} · {self.per_hour} {self.currency}"
