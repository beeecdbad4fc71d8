"""Nights that a person chose for a door's visit."""

from __future__ import annotations

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit


class NightChoiceQuerySet(models.QuerySet["NightChoice"]):
    """Choices by the page's question."""

    def standing(self) -> Self:
        """Choices that nobody has taken back."""
        return self.filter(withdrawn_at__isnull=True)

    def between(self, first: date, last: date) -> Self:
        """Choices of a night from the first to the last."""
        return self.filter(chosen_on__range=(first, last))


class NightChoice(models.Model):
    """A night that a person chose for a door's visit: plans keep it until it is taken back."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="night_choices", verbose_name=_("door")
    )
    chosen_on = models.DateField(_("night"))
    chosen_at = models.DateTimeField(_("chosen at"))
    chosen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("chosen by")
    )
    withdrawn_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("taken back by"),
    )

    objects = NightChoiceQuerySet.as_manager()

    class Meta:
        ordering = ("door", "chosen_at", "pk")
        verbose_name = _("night chosen by the planner")
        verbose_name_plural = _("nights chosen by the planner")
        constraints = (
            models.UniqueConstraint(
                fields=("door",),
                condition=Q(withdrawn_at__isnull=True),
                name="night_choice_one_on_a_door",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gte=F("chosen_at")),
                name="night_choice_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.chosen_on}"
