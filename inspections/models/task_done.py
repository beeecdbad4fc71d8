"""Preventive tasks done."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit, MaintenanceTask
from fleetdoors.models.record import Record, RecordQuerySet


class TaskDone(Record):
    """A preventive task done on a door; it sets that task's clock anew."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="tasks_done", verbose_name=_("door")
    )
    task = models.ForeignKey(
        MaintenanceTask, models.PROTECT, related_name="times_done", verbose_name=_("task")
    )
    done_at = models.DateTimeField(_("done at"))
    at_cycles = models.PositiveBigIntegerField(_("at cycles"), null=True, blank=True)
    done_by = models.CharField(_("done by"), max_length=100, blank=True)

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("door", "done_at", "pk")
        verbose_name = _("task done")
        verbose_name_plural = _("tasks done")

    def __str__(self) -> str:
        return f"{self.door} · {self.task} · {self.done_at:%Y-%m-%d}"
