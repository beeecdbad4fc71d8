"""Cycles run in each four weeks by the doors of one depot, model and kind of route."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class PeriodUseQuerySet(DerivedQuerySet):
    """Rows by generation and depot."""


class PeriodUse(models.Model):
    """What a group of doors ran, period by period: what their failures are held against."""

    generation = generation()
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    door_model = models.CharField(_("door model"), max_length=60)
    route_kind = models.CharField(_("route kind"), max_length=60, blank=True)
    first_day = models.FloatField(_("first period begins, days since 1970"))
    cycles = models.JSONField(_("cycles by period, oldest first"), default=list)

    objects = PeriodUseQuerySet.as_manager()

    class Meta:
        verbose_name = _("use by period")
        verbose_name_plural = _("use by period")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "depot", "door_model", "route_kind"),
                name="period_use_unique",
            ),
            models.UniqueConstraint(
                fields=("generation", "door_model", "route_kind"),
                condition=models.Q(depot__isnull=True),
                name="period_use_unique_without_depot",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot_id} · {self.door_model} · {self.route_kind}"
