"""How many of each part each depot will need, and what to order."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class DemandMethod(models.TextChoices):
    """What a forecast of demand rests on."""

    BASE = "installed base", _("ages and use of the fitted parts")
    HISTORY = "history", _("use in the last 52 weeks")
    NONE = "none", _("no record of use")


class PartOutlookQuerySet(DerivedQuerySet):
    """Outlooks by the page's question."""

    def to_order(self) -> Self:
        """Parts of which something should be ordered."""
        return self.filter(suggested_order__gt=0)

    def soonest_out_first(self) -> Self:
        """By the day on which the shelf is likely to be empty, then by part."""
        return self.order_by(F("run_out_on").asc(nulls_last=True), "part__part_number", "depot")

    def with_links(self) -> Self:
        """With part, component and depot, in the same query."""
        return self.select_related("part__component", "depot")


class PartOutlook(models.Model):
    """Demand for one part at one depot over the horizon, stock, and the order suggested."""

    generation = generation()
    part = link("fleetdoors.Part", _("part"))
    depot = link("fleetdoors.Depot", _("depot"))
    horizon_days = models.PositiveIntegerField(_("horizon, days"))
    mean = models.FloatField(_("expected demand"))
    variance = models.FloatField(_("variance of demand"))
    p05 = models.PositiveIntegerField(_("5 % quantile"))
    p10 = models.PositiveIntegerField(_("10 % quantile"))
    p50 = models.PositiveIntegerField(_("median"))
    p90 = models.PositiveIntegerField(_("90 % quantile"))
    p95 = models.PositiveIntegerField(_("95 % quantile"))
    method = models.CharField(_("method"), max_length=20, choices=DemandMethod)
    on_hand = models.IntegerField(_("on hand"), null=True)
    on_order = models.IntegerField(_("on order"), null=True)
    service_level = models.FloatField(_("service level"))
    reorder_point = models.PositiveIntegerField(_("reorder point"))
    order_up_to = models.PositiveIntegerField(_("order up to"))
    fill_rate = models.FloatField(_("fill rate"), null=True)
    suggested_order = models.PositiveIntegerField(_("suggested order"), null=True)
    run_out_on = models.DateField(_("likely to run out on"), null=True)
    explanation = models.JSONField(_("explanation"), default=dict)

    objects = PartOutlookQuerySet.as_manager()

    class Meta:
        verbose_name = _("outlook of a part")
        verbose_name_plural = _("outlooks of parts")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "part", "depot"), name="part_outlook_unique"
            ),
        )
        indexes = (models.Index(fields=("generation", "depot"), name="part_outlook_depot"),)

    def __str__(self) -> str:
        return f"{self.part_id} · {self.depot_id} · {self.mean:.1f}"
