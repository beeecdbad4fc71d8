"""When each preventive task is due on each door."""

from __future__ import annotations

from datetime import date
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link
from fleetdoors.models import DoorUnit, Mounting


class DueState(models.TextChoices):
    """Where a task stands, most pressing first."""

    LATE = "late", _("late")
    CONDITION = "condition", _("a finding asks for it")
    DUE = "due", _("due")
    SOON = "soon", _("soon")
    LATER = "later", _("later")
    UNKNOWN = "unknown", _("no usable reading")


class GovernedBy(models.TextChoices):
    """What makes a task due."""

    CYCLES = "cycles", _("cycles")
    DAYS = "days", _("days")
    CONDITION = "condition", _("condition")
    NONE = "", _("nothing known")


PRESSING = (DueState.LATE, DueState.CONDITION, DueState.DUE)


class DueTaskQuerySet(DerivedQuerySet):
    """Due tasks by the page's question."""

    def pressing(self) -> Self:
        """Late, due, or asked for by a finding."""
        return self.filter(state__in=PRESSING)

    def due_by(self, day: date) -> Self:
        """Due on or before the day."""
        return self.filter(due_on__lte=day)

    def matching(self, words: str) -> Self:
        """Of the doors whose number, or whose truck's number, holds the words.

        The doors are found first, each once: a door has a row for every task.
        """
        on_truck = Mounting.objects.open().filter(truck__fleet_number__icontains=words)
        numbered = Q(serial__icontains=words) | Q(pk__in=on_truck.values("door"))
        return self.filter(door__in=DoorUnit.objects.filter(numbered).order_by().values("pk"))

    def soonest_first(self) -> Self:
        """By due date, those without one last."""
        return self.order_by(F("due_on").asc(nulls_last=True), "-share_used", "pk")

    def with_links(self) -> Self:
        """With door, truck, depot and task, in the same query."""
        return self.select_related("door", "truck", "depot", "task")


class DueTask(models.Model):
    """One task on one door: when due, how surely, and what that rests on."""

    generation = generation()
    door = link("fleetdoors.DoorUnit", _("door"))
    task = link("fleetdoors.MaintenanceTask", _("task"))
    truck = link("fleetdoors.Truck", _("truck"), null=True)
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    last_done_on = models.DateField(_("last done on"), null=True)
    last_done_cycles = models.FloatField(_("last done at cycles"), null=True)
    never_done = models.BooleanField(_("never done on record"))
    interval_cycles = models.FloatField(_("interval, cycles"), null=True)
    interval_days = models.FloatField(_("interval, days"), null=True)
    factor = models.FloatField(_("severity factor"))
    factors = models.JSONField(_("severity factors"), default=dict)
    due_cycles = models.FloatField(_("due at cycles"), null=True)
    due_on = models.DateField(_("due on"), null=True)
    due_on_early = models.DateField(_("due on, early"), null=True)
    due_on_late = models.DateField(_("due on, late"), null=True)
    beyond_horizon = models.BooleanField(_("beyond the horizon"))
    window_opens_on = models.DateField(_("window opens on"), null=True)
    window_closes_on = models.DateField(_("window closes on"), null=True)
    probability_30_days = models.FloatField(_("chance of being due within 30 days"), null=True)
    governed_by = models.CharField(_("governed by"), max_length=10, choices=GovernedBy, blank=True)
    state = models.CharField(_("state"), max_length=10, choices=DueState)
    share_used = models.FloatField(_("share of the interval used"), null=True)
    lateness_percent = models.FloatField(_("late by, % of the interval"), null=True)

    objects = DueTaskQuerySet.as_manager()

    class Meta:
        verbose_name = _("due task")
        verbose_name_plural = _("due tasks")
        constraints = (
            models.UniqueConstraint(fields=("generation", "door", "task"), name="due_task_unique"),
        )
        indexes = (
            # Wider than what they are looked up by, so that a count of a large fleet reads the
            # index alone: a search its doors, a week its tasks, a state its dates.
            models.Index(fields=("generation", "due_on", "door"), name="due_task_by_date"),
            models.Index(
                fields=("generation", "depot", "due_on", "task", "door"), name="due_task_by_depot"
            ),
            models.Index(
                fields=(
                    "generation",
                    "state",
                    "due_on",
                    "window_closes_on",
                    "window_opens_on",
                    "door",
                    "depot",
                ),
                name="due_task_by_state",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door_id} · {self.task_id} · {self.due_on}"
