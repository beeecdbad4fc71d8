"""Faults: what went wrong with a door."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Component, DoorUnit
from fleetdoors.models.record import Record, RecordQuerySet
from inspections.codes import MODE_CHOICES, Action, Complaint, DetectedBy


class FaultQuerySet(RecordQuerySet):
    """Faults by the page's question."""

    def failures(self) -> Self:
        """Faults in force that are failures."""
        return self.in_force().filter(is_failure=True)

    def unrepaired(self) -> Self:
        """Faults in force for which nothing was done yet, the latest first."""
        return self.in_force().filter(action="").newest_first()

    def found_since(self, moment: datetime) -> Self:
        """Faults in force found at or after the moment, the latest first."""
        return self.in_force().filter(found_at__gte=moment).newest_first()

    def newest_first(self) -> Self:
        """Faults from the latest to the earliest."""
        return self.order_by("-found_at", "-pk")


class Fault(Record):
    """A fault found on a door; a failure when a required function was lost."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="faults", verbose_name=_("door")
    )
    found_at = models.DateTimeField(_("found at"))
    at_cycles = models.PositiveBigIntegerField(
        _("at cycles"),
        null=True,
        blank=True,
        help_text=_("Lifetime cycles of the door; empty = taken from the readings around it."),
    )
    component = models.ForeignKey(
        Component,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="faults",
        verbose_name=_("component"),
    )
    mode = models.CharField(_("failure mode"), max_length=4, choices=MODE_CHOICES, blank=True)
    complaint = models.CharField(_("complaint"), max_length=3, choices=Complaint, blank=True)
    detected_by = models.CharField(_("detected by"), max_length=20, choices=DetectedBy, blank=True)
    is_failure = models.BooleanField(_("failure"), default=True)
    action = models.CharField(_("action"), max_length=20, choices=Action, blank=True)
    off_road_from = models.DateTimeField(_("off the road from"), null=True, blank=True)
    off_road_until = models.DateTimeField(_("off the road until"), null=True, blank=True)
    note = models.TextField(_("note"), blank=True)

    objects = FaultQuerySet.as_manager()

    class Meta:
        ordering = ("door", "found_at", "pk")
        verbose_name = _("fault")
        verbose_name_plural = _("faults")
        indexes = (
            models.Index(fields=("found_at",), name="fault_found_at"),
            models.Index(
                fields=("off_road_until", "off_road_from"),
                name="fault_off_road",
                condition=Q(off_road_from__isnull=False),
            ),
        )
        constraints = (
            models.CheckConstraint(
                condition=Q(off_road_until__isnull=True)
                | Q(off_road_from__isnull=True)
                | Q(off_road_until__gte=F("off_road_from")),
                name="fault_off_road_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.found_at:%Y-%m-%d} · {self.component or self.complaint}"
