"""Drivers' reports and what became of them, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Truck
from inspections.codes import Complaint
from inspections.models.fault import Fault

if TYPE_CHECKING:
    from fleetdoors.models import User


class DefectState(models.TextChoices):
    """Where a report stands; each step but the first is a row of its own."""

    REPORTED = "reported", _("reported")
    ASSESSED = "assessed", _("looked at")
    REPAIR_PLANNED = "repair_planned", _("repair planned")
    REPAIRED = "repaired", _("repaired")
    UNNECESSARY = "unnecessary", _("repair unnecessary")
    CERTIFIED = "certified", _("signed off")
    ACKNOWLEDGED = "acknowledged", _("seen by the next driver")


ENDED = (DefectState.CERTIFIED, DefectState.ACKNOWLEDGED)


class DefectReportQuerySet(models.QuerySet["DefectReport"]):
    """Reports by the page's question."""

    def visible_to(self, user: User) -> Self:
        """Reports on doors that a person may see."""
        return self.filter(door__in=DoorUnit.objects.visible_to(user))

    def at_depots(self, depots: models.QuerySet[Depot]) -> Self:
        """Reports on trucks that live at the depots."""
        return self.filter(truck__depot__in=depots)

    def unanswered(self) -> Self:
        """Reports that nobody has signed off, the oldest first."""
        return self.exclude(state__in=ENDED).order_by("reported_at", "pk")


class DefectReport(models.Model):
    """What a driver saw, in the driver's words; `state` is that of the last step."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="defect_reports", verbose_name=_("door")
    )
    truck = models.ForeignKey(
        Truck,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="defect_reports",
        verbose_name=_("truck"),
    )
    complaint = models.CharField(_("complaint"), max_length=3, choices=Complaint)
    words = models.TextField(_("in the driver's words"), blank=True)
    reporter = models.CharField(_("reported by"), max_length=100)
    reported_at = models.DateTimeField(_("reported at"))
    state = models.CharField(
        _("state"), max_length=15, choices=DefectState, default=DefectState.REPORTED
    )
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    objects = DefectReportQuerySet.as_manager()

    class Meta:
        ordering = ("-reported_at", "-pk")
        verbose_name = _("driver's report")
        verbose_name_plural = _("drivers' reports")
        constraints = (
            models.CheckConstraint(condition=~Q(reporter=""), name="defect_report_has_a_name"),
        )
        indexes = (
            models.Index(fields=("door", "complaint", "reported_at"), name="defect_report_like"),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.get_complaint_display()}"

    @property
    def depot(self) -> Depot | None:
        """Where the truck is at home; None for a door on no truck."""
        return self.truck.depot if self.truck else None


class DefectStep(models.Model):
    """A step in the life of a report: who, when, and where needed why."""

    report = models.ForeignKey(
        DefectReport, models.PROTECT, related_name="steps", verbose_name=_("driver's report")
    )
    kind = models.CharField(_("step"), max_length=15, choices=DefectState)
    taken_at = models.DateTimeField(_("taken at"))
    name = models.CharField(_("name"), max_length=100)
    role = models.CharField(_("role"), max_length=100, blank=True)
    reason = models.CharField(_("reason"), max_length=300, blank=True)
    fault = models.ForeignKey(
        Fault,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="defect_steps",
        verbose_name=_("fault"),
    )
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )

    class Meta:
        ordering = ("report", "taken_at", "pk")
        verbose_name = _("step of a report")
        verbose_name_plural = _("steps of a report")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind=DefectState.UNNECESSARY) | ~Q(reason=""),
                name="defect_unnecessary_says_why",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="defect_step_has_a_name"),
        )

    def __str__(self) -> str:
        return f"{self.report} · {self.kind}"
