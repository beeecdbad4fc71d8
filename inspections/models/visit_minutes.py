"""Minutes worked on a visit, by all hands together: kept for the visit, never for a person."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.record import Record, RecordQuerySet
from inspections.models.visit import Visit

# Two days of work on one door; more is a slip.
MOST_MINUTES = 2_880


class VisitMinutes(Record):
    """How long a visit took; a correction is a new row."""

    visit = models.ForeignKey(
        Visit, models.PROTECT, related_name="minutes_worked", verbose_name=_("visit")
    )
    minutes = models.PositiveIntegerField(_("minutes worked"))

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("visit", "pk")
        verbose_name = _("minutes worked")
        verbose_name_plural = _("minutes worked")
        constraints = (
            models.CheckConstraint(
                condition=Q(minutes__gte=1, minutes__lte=MOST_MINUTES),
                name="visit_minutes_within_two_days",
            ),
            models.UniqueConstraint(
                fields=("visit",),
                condition=Q(superseded_at__isnull=True),
                name="visit_minutes_one_in_force",
            ),
        )

    def __str__(self) -> str:
        return f"{self.visit} · {self.minutes}"
