"""Why a visit was done on another night than planned, or not at all."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inspections.models.visit import Visit


class OffPlanKind(models.TextChoices):
    """How a visit came out against its night."""

    NOT_PRESENTED = "not_presented", _("truck did not come")
    EARLY = "early", _("done early")
    LATE = "late", _("done late")


class OffPlanCause(models.TextChoices):
    """Why a visit was not done on its night."""

    TRUCK_OUT = "truck_out", _("truck was on the road")
    TRUCK_IN = "truck_in", _("truck was in anyway")
    HOURS = "hours", _("no time left in the bay")
    PEOPLE = "people", _("the right person was not there")
    PARTS = "parts", _("parts were missing")
    URGENT = "urgent", _("other work was more urgent")
    OTHER = "other", _("another reason")


class OffPlanReasonQuerySet(models.QuerySet["OffPlanReason"]):
    """Reasons by the page's question."""

    def in_force(self) -> Self:
        """Reasons that no later one corrects."""
        return self.filter(superseded_at__isnull=True)


class OffPlanReason(models.Model):
    """Why a visit was done on another night than planned, or not at all."""

    visit = models.ForeignKey(
        Visit, models.PROTECT, related_name="off_plan_reasons", verbose_name=_("visit")
    )
    kind = models.CharField(_("how it came out"), max_length=15, choices=OffPlanKind)
    cause = models.CharField(_("why"), max_length=10, choices=OffPlanCause)
    note = models.CharField(_("note"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    superseded_at = models.DateTimeField(_("corrected at"), null=True, blank=True)

    objects = OffPlanReasonQuerySet.as_manager()

    class Meta:
        ordering = ("visit", "entered_at", "pk")
        verbose_name = _("reason for another night")
        verbose_name_plural = _("reasons for another night")
        constraints = (
            models.UniqueConstraint(
                fields=("visit",),
                condition=Q(superseded_at__isnull=True),
                name="off_plan_one_reason_in_force",
            ),
            models.CheckConstraint(
                condition=~Q(cause=OffPlanCause.OTHER) | ~Q(note=""),
                name="off_plan_other_says_what",
            ),
        )

    def __str__(self) -> str:
        return f"{self.visit} · {self.get_cause_display()}"
