"""Measurements, with the limits that were in force when they were taken."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit
from fleetdoors.models.record import Record, RecordQuerySet
from inspections.models.inspection import Inspection, InspectionKind
from inspections.models.visit import Visit
from inspections.quantities import QUANTITY_CHOICES


class Judgement(models.TextChoices):
    """Where a value stands against its limits."""

    HOLDS = "holds", _("holds")
    NEAR = "near", _("near its limit")
    PAST = "past", _("past its limit")
    NO_LIMIT = "no_limit", _("no limit to compare with")


class MeasurementQuerySet(RecordQuerySet):
    """Measurements by the page's question."""

    def baselines(self, door: DoorUnit) -> Self:
        """What was measured when the door was put into service, the latest first."""
        kept = self.in_force().filter(door=door, inspection__kind=InspectionKind.COMMISSIONING)
        return kept.order_by("-measured_at", "-pk")

    def newest_first(self) -> Self:
        """From the latest to the earliest."""
        return self.order_by("-measured_at", "-pk")


class Measurement(Record):
    """A value in the unit of its quantity; beyond a limit is past it, beyond a near line is near.

    A limit that does not exist on a side is empty; `limit_source` says where the limits are from.
    """

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="measurements", verbose_name=_("door")
    )
    inspection = models.ForeignKey(
        Inspection,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="measurements",
        verbose_name=_("inspection"),
    )
    visit = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="measurements",
        verbose_name=_("visit"),
    )
    quantity = models.CharField(_("quantity"), max_length=30, choices=QUANTITY_CHOICES)
    value = models.FloatField(_("value"))
    measured_at = models.DateTimeField(_("measured at"))
    at_cycles = models.PositiveBigIntegerField(_("at cycles"), null=True, blank=True)
    amps = models.FloatField(_("current, A"), null=True, blank=True)
    celsius = models.FloatField(_("temperature, °C"), null=True, blank=True)
    engine_running = models.BooleanField(_("engine running"), default=False)
    limit_low = models.FloatField(_("lower limit"), null=True, blank=True)
    near_low = models.FloatField(_("near the lower limit below"), null=True, blank=True)
    near_high = models.FloatField(_("near the upper limit above"), null=True, blank=True)
    limit_high = models.FloatField(_("upper limit"), null=True, blank=True)
    limit_source = models.CharField(_("source of the limits"), max_length=200, blank=True)
    judgement = models.CharField(_("judgement"), max_length=10, choices=Judgement)

    objects = MeasurementQuerySet.as_manager()

    class Meta:
        ordering = ("door", "measured_at", "pk")
        verbose_name = _("measurement")
        verbose_name_plural = _("measurements")
        constraints = (
            models.UniqueConstraint(
                fields=("inspection", "quantity"),
                condition=Q(superseded_at__isnull=True),
                name="measurement_once_an_inspection",
            ),
            models.CheckConstraint(
                condition=Q(limit_low__isnull=True)
                | Q(near_low__isnull=True)
                | Q(near_low__gte=F("limit_low")),
                name="measurement_near_not_below_lower_limit",
            ),
            models.CheckConstraint(
                condition=Q(limit_high__isnull=True)
                | Q(near_high__isnull=True)
                | Q(near_high__lte=F("limit_high")),
                name="measurement_near_not_above_upper_limit",
            ),
            models.CheckConstraint(
                condition=Q(judgement__in=Judgement.values), name="measurement_judgement_known"
            ),
        )
        indexes = (
            models.Index(fields=("door", "quantity", "measured_at"), name="measurement_history"),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.quantity} · {self.value}"
