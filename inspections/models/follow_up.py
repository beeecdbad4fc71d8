"""Follow-ups: a finding asks for a task before its interval is over."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit, MaintenanceTask
from inspections.models.task_done import TaskDone


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    """Follow-ups by the page's question."""

    def open(self) -> Self:
        """Those that still ask for their task, the oldest first."""
        return self.filter(closed_at__isnull=True).order_by("opened_at", "pk")


class FollowUp(models.Model):
    """A task that a finding asks for; the measurement says which."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="follow_ups", verbose_name=_("door")
    )
    task = models.ForeignKey(
        MaintenanceTask, models.PROTECT, related_name="follow_ups", verbose_name=_("task")
    )
    because = models.CharField(_("because"), max_length=300)
    measurement = models.ForeignKey(
        "inspections.Measurement",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="follow_ups",
        verbose_name=_("measurement"),
    )
    opened_at = models.DateTimeField(_("opened at"))
    closed_at = models.DateTimeField(_("closed at"), null=True, blank=True)
    task_done = models.ForeignKey(
        TaskDone,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="follow_ups",
        verbose_name=_("task done"),
    )
    closing_reason = models.CharField(_("why it was dropped"), max_length=200, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    end_entered_at = models.DateTimeField(_("end entered at"), null=True, blank=True)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    objects = FollowUpQuerySet.as_manager()

    class Meta:
        ordering = ("door", "opened_at", "pk")
        verbose_name = _("follow-up")
        verbose_name_plural = _("follow-ups")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "task"),
                condition=Q(closed_at__isnull=True),
                name="follow_up_one_open_for_a_task",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True)
                | Q(task_done__isnull=False)
                | ~Q(closing_reason=""),
                name="follow_up_closed_by_work_or_reason",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
                name="follow_up_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.task} · {self.because}"
