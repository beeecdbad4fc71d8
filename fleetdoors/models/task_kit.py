"""Kits: the parts that each doing of a preventive task uses."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.maintenance_task import MaintenanceTask
from fleetdoors.models.part import Part


class TaskKit(models.Model):
    """A part that is used each time a task is done, and how many of it."""

    task = models.ForeignKey(
        MaintenanceTask, models.CASCADE, related_name="kit", verbose_name=_("task")
    )
    part = models.ForeignKey(Part, models.PROTECT, related_name="kits", verbose_name=_("part"))
    quantity = models.PositiveIntegerField(_("quantity"), default=1)

    class Meta:
        ordering = ("task", "part__part_number")
        verbose_name = _("part of a kit")
        verbose_name_plural = _("parts of kits")
        constraints = (
            models.UniqueConstraint(fields=("task", "part"), name="task_kit_part_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="task_kit_at_least_one"),
        )

    def __str__(self) -> str:
        return f"{self.task.code} · {self.part} · {self.quantity}"
