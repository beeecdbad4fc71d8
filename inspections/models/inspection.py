"""Inspections: a person looked at a door and measured."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit
from inspections.models.visit import Visit


class InspectionKind(models.TextChoices):
    """What an inspection is for."""

    ROUTINE = "routine", _("routine")
    COMMISSIONING = "commissioning", _("when put into service")


class InspectionQuerySet(models.QuerySet["Inspection"]):
    """Inspections by the page's question."""

    def newest_first(self) -> Self:
        """From the latest to the earliest."""
        return self.order_by("-begun_at", "-pk")


class Inspection(models.Model):
    """A set of measurements; with `all_as_it_should_be`, only the exceptions were measured."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="inspections", verbose_name=_("door")
    )
    visit = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="inspections",
        verbose_name=_("visit"),
    )
    kind = models.CharField(
        _("kind"), max_length=15, choices=InspectionKind, default=InspectionKind.ROUTINE
    )
    begun_at = models.DateTimeField(_("begun at"))
    all_as_it_should_be = models.BooleanField(_("all as it should be"), default=False)
    inspector = models.CharField(_("inspector"), max_length=100)
    note = models.TextField(_("note"), blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    objects = InspectionQuerySet.as_manager()

    class Meta:
        ordering = ("door", "begun_at", "pk")
        verbose_name = _("inspection")
        verbose_name_plural = _("inspections")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "kind", "begun_at", "entered_by"), name="inspection_entered_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.begun_at:%Y-%m-%d}"
