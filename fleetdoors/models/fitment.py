"""Fitted parts: one life per component and position of a door."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.component import Component
from fleetdoors.models.door_unit import DoorUnit
from fleetdoors.models.part import Part


class Removal(models.TextChoices):
    """Why a part came off."""

    FAILED = "failed", _("failed")
    PREVENTIVE = "preventive", _("changed before it failed")
    OTHER = "other", _("other reason")


class FitmentQuerySet(models.QuerySet["Fitment"]):
    """Fitted parts by the page's question."""

    def in_force(self) -> Self:
        """Stays as they are believed today: none that was taken back or written anew."""
        return self.filter(superseded_at__isnull=True)

    def in_place(self) -> Self:
        """Parts that are on their doors now."""
        return self.in_force().filter(removal="")


class Fitment(models.Model):
    """A part's stay at a position, in lifetime cycles of the door.

    `fitted_at_cycles` empty means that the age is unknown; `observed_from_cycles` later than it
    means that the age is known but the record starts later.

    A stay that was taken back stays as it was written and is in force no more. A life that goes on
    after all is a new row: it corrects the one that had ended and keeps its moment of entry, and
    was known from the moment at which that one was superseded.
    """

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="fitments", verbose_name=_("door")
    )
    component = models.ForeignKey(
        Component, models.PROTECT, related_name="fitments", verbose_name=_("component")
    )
    position = models.CharField(_("position"), max_length=40, blank=True)
    part = models.ForeignKey(
        Part, models.PROTECT, null=True, blank=True, related_name="fitments", verbose_name=_("part")
    )
    fitted_on = models.DateField(_("fitted on"), null=True, blank=True)
    fitted_at_cycles = models.PositiveBigIntegerField(_("fitted at cycles"), null=True, blank=True)
    observed_from_cycles = models.PositiveBigIntegerField(
        _("observed from cycles"), null=True, blank=True
    )
    removed_on = models.DateField(_("removed on"), null=True, blank=True)
    removed_at_cycles = models.PositiveBigIntegerField(
        _("removed at cycles"), null=True, blank=True
    )
    removal = models.CharField(_("removal"), max_length=20, choices=Removal, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    end_entered_at = models.DateTimeField(_("end entered at"), null=True, blank=True)
    corrects = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="correction",
        verbose_name=_("corrects"),
    )
    superseded_at = models.DateTimeField(_("taken back at"), null=True, blank=True)

    objects = FitmentQuerySet.as_manager()

    class Meta:
        ordering = ("door", "component", "position", "fitted_at_cycles", "pk")
        verbose_name = _("fitted part")
        verbose_name_plural = _("fitted parts")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "component", "position"),
                condition=Q(removal="", superseded_at__isnull=True),
                name="position_holds_one_part",
            ),
            models.CheckConstraint(
                condition=Q(removed_at_cycles__isnull=True)
                | Q(fitted_at_cycles__isnull=True)
                | Q(removed_at_cycles__gte=F("fitted_at_cycles")),
                name="fitment_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(observed_from_cycles__isnull=True)
                | Q(fitted_at_cycles__isnull=True)
                | Q(observed_from_cycles__gte=F("fitted_at_cycles")),
                name="fitment_observed_after_fitted",
            ),
            models.CheckConstraint(
                condition=Q(removal__in=("", *Removal.values)), name="fitment_removal_known"
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.component} {self.position}".strip()
