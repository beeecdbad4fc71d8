"""The catalogue of preventive tasks, and the factors that shorten their intervals."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.caution import Caution
from fleetdoors.models.depot import Setting
from fleetdoors.shipped_words import in_readers_words


class TaskKind(models.TextChoices):
    """What a preventive task is for."""

    INSPECTION = "inspection", _("inspection")
    DATA = "data", _("record")
    CLEANING = "cleaning", _("cleaning")
    FAILURE_FINDING = "failure_finding", _("looks for hidden failures")
    PREDETERMINED = "predetermined", _("at fixed intervals")
    CONDITION = "condition", _("condition check")


class Performer(models.TextChoices):
    """Who may do a task."""

    ANYONE = "anyone", _("anyone")
    DRIVER = "driver", _("driver")
    TECHNICIAN = "technician", _("technician")
    SENIOR = "senior", _("senior technician")
    SPRING_TRAINED = "spring_trained", _("person trained for spring work")


class MaintenanceTaskQuerySet(models.QuerySet["MaintenanceTask"]):
    """Preventive tasks by whether they are planned."""

    def on_due_lists(self) -> Self:
        """Tasks that appear on due lists, by code."""
        return self.filter(is_on_due_lists=True).order_by("code")


class MaintenanceTask(models.Model):
    """A preventive task with its interval in cycles and in days, whichever comes first."""

    code = models.CharField(_("task"), max_length=10, unique=True)
    name = models.CharField(_("name"), max_length=200)
    interval_cycles = models.PositiveIntegerField(_("interval, cycles"), null=True, blank=True)
    interval_days = models.PositiveIntegerField(_("interval, days"), null=True, blank=True)
    spring_class_share = models.FloatField(
        _("share of the spring class"),
        null=True,
        blank=True,
        help_text=_("The interval in cycles is this share of the door model's spring class."),
    )
    minutes = models.PositiveIntegerField(_("minutes"), default=10)
    performer = models.CharField(
        _("who"), max_length=20, choices=Performer, default=Performer.TECHNICIAN
    )
    kind = models.CharField(_("kind"), max_length=20, choices=TaskKind, default=TaskKind.INSPECTION)
    is_on_due_lists = models.BooleanField(_("on due lists"), default=True)
    window_before_percent = models.PositiveSmallIntegerField(_("window before, %"), default=10)
    window_after_percent = models.PositiveSmallIntegerField(_("window after, %"), default=10)
    contains = models.ManyToManyField(
        "self",
        symmetrical=False,
        blank=True,
        related_name="contained_in",
        verbose_name=_("contains"),
        help_text=_("Doing this task also does these."),
    )
    cautions = models.ManyToManyField(Caution, blank=True, verbose_name=_("cautions"))

    objects = MaintenanceTaskQuerySet.as_manager()

    class Meta:
        ordering = ("code",)
        verbose_name = _("preventive task")
        verbose_name_plural = _("preventive tasks")
        constraints = (
            models.CheckConstraint(
                condition=Q(interval_cycles__isnull=True) | Q(interval_cycles__gte=1),
                name="task_interval_cycles_at_least_one",
            ),
            models.CheckConstraint(
                condition=Q(interval_days__isnull=True) | Q(interval_days__gte=1),
                name="task_interval_days_at_least_one",
            ),
            models.CheckConstraint(
                condition=Q(window_before_percent__lte=50) & Q(window_after_percent__lte=100),
                name="task_window_within_interval",
            ),
        )

    def __str__(self) -> str:
        return in_readers_words(self.name)


class Duty(models.TextChoices):
    """Hard use that is read from the door's own record, not typed."""

    HIGH_DUTY = "high_duty", _("more than 45 cycles a day")
    ROUGH_USE = "rough_use", _("rough use")


class SeverityFactor(models.Model):
    """How much a setting or a duty shortens a task's interval; factors multiply, at least 0.4."""

    FLOOR = 0.4

    task = models.ForeignKey(
        MaintenanceTask, models.CASCADE, related_name="severity_factors", verbose_name=_("task")
    )
    condition = models.CharField(
        _("condition"), max_length=20, choices=[*Setting.choices, *Duty.choices]
    )
    factor = models.FloatField(_("factor"))

    class Meta:
        ordering = ("task", "condition")
        verbose_name = _("severity factor")
        verbose_name_plural = _("severity factors")
        constraints = (
            models.UniqueConstraint(fields=("task", "condition"), name="severity_factor_unique"),
            models.CheckConstraint(
                condition=Q(factor__gt=0) & Q(factor__lte=2), name="severity_factor_0_to_2"
            ),
        )

    def __str__(self) -> str:
        return f"{self.task.code} · {self.get_condition_display()} · {self.factor}"
