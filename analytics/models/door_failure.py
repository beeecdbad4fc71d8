"""Where on its door's cycles each failure lies."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class DoorFailureQuerySet(DerivedQuerySet):
    """Failures by the page's question."""

    def in_order(self) -> Self:
        """As they were found."""
        return self.order_by("day", "pk")


class DoorFailure(models.Model):
    """A fault that counts as a failure, with the lifetime cycles noted or read off around it."""

    generation = generation()
    fault = link("inspections.Fault", _("fault"))
    door = link("fleetdoors.DoorUnit", _("door"))
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    component = link("fleetdoors.Component", _("component"), null=True)
    day = models.FloatField(_("days since 1970 on the depot's clock"))
    at_cycles = models.FloatField(_("at cycles"))

    objects = DoorFailureQuerySet.as_manager()

    class Meta:
        verbose_name = _("failure on a door's cycles")
        verbose_name_plural = _("failures on doors' cycles")
        constraints = (
            models.UniqueConstraint(fields=("generation", "fault"), name="door_failure_unique"),
        )
        indexes = (models.Index(fields=("generation", "door"), name="door_failure_door"),)

    def __str__(self) -> str:
        return f"{self.door_id} · {self.at_cycles:.0f}"
