"""What the catalogue of preventive tasks said before each change of it, who made it and why."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.maintenance_task import MaintenanceTask


class TaskChangeQuerySet(models.QuerySet["TaskChange"]):
    """Changes by the page's question."""

    def newest_first(self) -> Self:
        """From the latest to the earliest, with task and person, in the same query."""
        return self.select_related("task", "changed_by", "undone_by").order_by("-changed_at", "-pk")


class TaskChange(models.Model):
    """One change of a task: its sheet before (none = the task was new) and after."""

    task = models.ForeignKey(
        MaintenanceTask, models.PROTECT, related_name="changes", verbose_name=_("task")
    )
    before = models.JSONField(_("before"), null=True, blank=True)
    after = models.JSONField(_("after"))
    changed_at = models.DateTimeField(_("changed at"))
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("changed by"),
        help_text=_("None for what came with a fleet folder."),
    )
    reason = models.CharField(_("why"), max_length=200)
    undoes = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="undone_by",
        verbose_name=_("undoes"),
    )

    objects = TaskChangeQuerySet.as_manager()

    class Meta:
        ordering = ("-changed_at", "-pk")
        verbose_name = _("change of a task")
        verbose_name_plural = _("changes of tasks")
        constraints = (
            models.CheckConstraint(condition=~models.Q(reason=""), name="task_change_says_why"),
        )

    def __str__(self) -> str:
        return f"{self.task.code} · {self.changed_at:%Y-%m-%d}"
