"""The final check of a visit: what the door did when the work was over."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.units_in_use import in_words_lazy
from inspections.models.visit import Visit


class FinalCheckQuerySet(models.QuerySet["FinalCheck"]):
    """Final checks by the page's question."""

    def newest_first(self) -> Self:
        """From the latest to the earliest."""
        return self.order_by("-checked_at", "-pk")


class FinalCheck(models.Model):
    """Five things tried at the end; a check that failed stays, and is followed by another."""

    ITEMS = ("three_cycles", "reverses", "ajar_lamp", "manual_release", "counter_advances")

    visit = models.ForeignKey(
        Visit, models.PROTECT, related_name="final_checks", verbose_name=_("visit")
    )
    three_cycles = models.BooleanField(_("three full cycles, stops right at both ends"))
    reverses = models.BooleanField(
        in_words_lazy(_("goes back from a 25 mm block within 2 seconds"))
    )
    ajar_lamp = models.BooleanField(_("ajar lamp agrees with the door"))
    manual_release = models.BooleanField(_("manual release works and latches again"))
    counter_advances = models.BooleanField(_("counter went on by the cycles run"))
    note = models.CharField(_("note"), max_length=500, blank=True)
    checked_at = models.DateTimeField(_("checked at"))
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("checked by")
    )
    entered_at = models.DateTimeField(_("entered at"))

    objects = FinalCheckQuerySet.as_manager()

    class Meta:
        ordering = ("visit", "checked_at", "pk")
        verbose_name = _("final check")
        verbose_name_plural = _("final checks")

    def __str__(self) -> str:
        return f"{self.visit} · {self.checked_at:%Y-%m-%d %H:%M}"

    @property
    def has_passed(self) -> bool:
        """Whether every item was right."""
        return all(getattr(self, item) for item in self.ITEMS)
