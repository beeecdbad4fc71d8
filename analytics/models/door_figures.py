"""What is computed of each door."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class UsageBasis(models.TextChoices):
    """What a door's cycles per day rest on."""

    OWN_READINGS = "own_readings", _("its own readings")
    SIMILAR_DOORS = "similar_doors", _("similar doors")
    STALE = "stale", _("readings older than 120 days")
    NONE = "none", _("no reading")


class DoorFiguresQuerySet(DerivedQuerySet):
    """Figures of doors."""

    def with_links(self) -> Self:
        """With door, truck and depot, in the same query."""
        return self.select_related("door__door_model", "truck", "depot").order_by("door__serial")


class DoorFigures(models.Model):
    """A door's exposure, cycles now and usage, and the state of its usage filter."""

    generation = generation()
    door = link("fleetdoors.DoorUnit", _("door"))
    truck = link("fleetdoors.Truck", _("truck"), null=True)
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    door_revision = models.PositiveBigIntegerField(_("revision of the door"))
    in_service = models.BooleanField(_("in service"))
    start_cycles = models.FloatField(_("record begins at cycles"))
    end_cycles = models.FloatField(_("record ends at cycles"))
    failures = models.PositiveIntegerField(_("failures"))
    cycles_now = models.FloatField(_("cycles now"), null=True)
    cycles_per_day = models.FloatField(_("cycles per day"))
    lower = models.FloatField(_("cycles per day, lower"))
    upper = models.FloatField(_("cycles per day, upper"))
    basis = models.CharField(_("basis"), max_length=20, choices=UsageBasis)
    last_read_at = models.DateTimeField(_("last read at"), null=True)
    last_value = models.PositiveBigIntegerField(_("last counter value"), null=True)
    accepted = models.PositiveIntegerField(_("readings accepted"))
    held = models.PositiveIntegerField(_("readings held"))
    holds_in_row = models.PositiveIntegerField(_("held in a row"))
    log_rate = models.FloatField(_("filter, log of cycles per day"))
    rate_variance = models.FloatField(_("filter, variance"))

    objects = DoorFiguresQuerySet.as_manager()

    class Meta:
        verbose_name = _("figures of a door")
        verbose_name_plural = _("figures of doors")
        constraints = (
            models.UniqueConstraint(fields=("generation", "door"), name="door_figures_unique"),
        )
        indexes = (
            # With what doors are counted by, so that the counts read the index alone.
            models.Index(
                fields=("generation", "depot", "in_service", "basis", "last_read_at"),
                name="door_figures_depot",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door_id} · {self.cycles_per_day:.1f}"

    @property
    def window_cycles(self) -> float:
        """Cycles on record."""
        return self.end_cycles - self.start_cycles
