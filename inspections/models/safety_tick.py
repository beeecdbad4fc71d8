"""Safety ticks: what was made ready before hands went in."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inspections.models.visit import Visit


class Tick(models.TextChoices):
    """What a person says was done first; a reminder with a name, not proof."""

    CHOCKS = "chocks", _("Brake set, wheels chocked, nobody behind the truck")
    CLEAR_OPENING = "clear_opening", _("Opening clear, door propped or clamped for work below it")
    ISOLATION = "isolation", _("Battery feed off and locked, key and remote kept, controls tried")
    TOOLS = "tools", _("Rings off, insulated probes, eye protection at the battery")
    SPRING_TRAINED = "spring_trained", _("I am trained and authorized for spring work")


NEVER_SKIPPED = (Tick.ISOLATION, Tick.SPRING_TRAINED)


class SafetyTickQuerySet(models.QuerySet["SafetyTick"]):
    """Ticks by the page's question."""

    def in_force(self) -> Self:
        """Ticks that nobody has taken back."""
        return self.filter(taken_back_at__isnull=True)


class SafetyTick(models.Model):
    """A tick set on a visit, or skipped with a reason; taken back, it stays on record."""

    visit = models.ForeignKey(
        Visit, models.PROTECT, related_name="safety_ticks", verbose_name=_("visit")
    )
    tick = models.CharField(_("tick"), max_length=20, choices=Tick)
    ticked_at = models.DateTimeField(_("ticked at"))
    ticked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("ticked by")
    )
    skipped_reason = models.CharField(_("why it was skipped"), max_length=200, blank=True)
    taken_back_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("taken back by"),
    )

    objects = SafetyTickQuerySet.as_manager()

    class Meta:
        ordering = ("visit", "ticked_at", "pk")
        verbose_name = _("safety tick")
        verbose_name_plural = _("safety ticks")
        constraints = (
            models.UniqueConstraint(
                fields=("visit", "tick"),
                condition=Q(taken_back_at__isnull=True),
                name="safety_tick_once",
            ),
            models.CheckConstraint(
                condition=~Q(tick__in=NEVER_SKIPPED) | Q(skipped_reason=""),
                name="safety_tick_never_skipped",
            ),
        )

    def __str__(self) -> str:
        return f"{self.visit} · {self.tick}"

    @property
    def is_skipped(self) -> bool:
        """Whether it was left out, with a reason."""
        return bool(self.skipped_reason)
