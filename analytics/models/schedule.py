"""Proposed plans: which truck on which night and for what; computed, and computed again at will."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import link


class PlanRun(models.Model):
    """One working out of plans, of one depot or of several; tells how far it is."""

    asked_at = models.DateTimeField(_("asked at"))
    asked_by = link("fleetdoors.User", _("asked by"), null=True)
    first_on = models.DateField(_("first night"))
    nights = models.PositiveSmallIntegerField(_("nights"))
    depots = models.PositiveIntegerField(_("depots"))
    depots_done = models.PositiveIntegerField(_("depots done"), default=0)
    is_full = models.BooleanField(_("with the solver"))
    finished_at = models.DateTimeField(_("finished at"), null=True, blank=True)
    failed = models.BooleanField(_("failed"), default=False)

    class Meta:
        ordering = ("-pk",)
        verbose_name = _("working out of plans")
        verbose_name_plural = _("workings out of plans")
        constraints = (
            models.CheckConstraint(
                condition=Q(depots_done__lte=F("depots")), name="plan_run_done_within_depots"
            ),
        )

    def __str__(self) -> str:
        return f"{self.asked_at:%Y-%m-%d %H:%M}"


class ProposalQuerySet(models.QuerySet["Proposal"]):
    """Proposals by the page's question."""

    def open_at(self, depot_id: int) -> Self:
        """Proposals of a depot that nobody accepted or put away, the latest first."""
        return self.filter(depot=depot_id, closed_at__isnull=True).order_by("-pk")


class Proposal(models.Model):
    """A plan for one depot's nights; `seen` tells what was planned when it was worked out."""

    run = models.ForeignKey(
        PlanRun, models.CASCADE, verbose_name=_("run"), related_name="proposals"
    )
    depot = link("fleetdoors.Depot", _("depot"))
    first_on = models.DateField(_("first night"))
    nights = models.PositiveSmallIntegerField(_("nights"))
    made_at = models.DateTimeField(_("made at"))
    is_full = models.BooleanField(_("with the solver"))
    by_solver = models.BooleanField(_("the solver's"))
    cost = models.FloatField(_("cost"))
    bound = models.FloatField(_("no plan costs less"))
    bay_minutes = models.JSONField(_("minutes of the bay in each night"), default=list)
    trained_minutes = models.JSONField(_("trained minutes in each night"), default=list)
    hours_are_assumed = models.BooleanField(_("hours assumed"))
    seen = models.CharField(_("mark of what was planned"), max_length=64)
    closed_at = models.DateTimeField(_("accepted or put away at"), null=True, blank=True)

    objects = ProposalQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        verbose_name = _("proposed plan")
        verbose_name_plural = _("proposed plans")
        indexes = (models.Index(fields=("depot", "closed_at"), name="proposal_open"),)

    def __str__(self) -> str:
        return f"{self.depot_id} · {self.first_on}"

    @property
    def gap(self) -> float:
        """Share of the bound by which a better plan may be cheaper."""
        return max(self.cost - self.bound, 0.0) / max(self.bound, 1.0)


class ProposedVisit(models.Model):
    """A truck in a night, or (no night) a truck whose work found none."""

    proposal = models.ForeignKey(
        Proposal, models.CASCADE, verbose_name=_("proposal"), related_name="visits"
    )
    door = link("fleetdoors.DoorUnit", _("door"))
    truck = link("fleetdoors.Truck", _("truck"), null=True)
    night_on = models.DateField(_("night"), null=True)
    is_chosen = models.BooleanField(_("night chosen by a person"), default=False)
    is_open = models.BooleanField(_("in hand at present"), default=False)

    class Meta:
        ordering = ("proposal", "night_on", "pk")
        verbose_name = _("proposed visit")
        verbose_name_plural = _("proposed visits")
        constraints = (
            models.UniqueConstraint(
                fields=("proposal", "door", "night_on"), name="proposed_visit_once_a_night"
            ),
        )

    def __str__(self) -> str:
        return f"{self.door_id} · {self.night_on}"


class ProposedJob(models.Model):
    """A job of a proposed visit: a task, a finding's task, a fault, a report, or a held door."""

    visit = models.ForeignKey(
        ProposedVisit, models.CASCADE, verbose_name=_("visit"), related_name="jobs"
    )
    kind = models.CharField(_("kind"), max_length=10)
    task = link("fleetdoors.MaintenanceTask", _("task"), null=True)
    follow_up = link("inspections.FollowUp", _("follow-up"), null=True)
    fault = link("inspections.Fault", _("fault"), null=True)
    defect_report = link("inspections.DefectReport", _("driver's report"), null=True)
    minutes = models.FloatField(_("minutes"))
    due_on = models.DateField(_("due on"), null=True)
    earliest_on = models.DateField(_("not before"), null=True)
    is_along = models.BooleanField(_("done along with another"), default=False)
    needs_trained = models.BooleanField(_("spring work"), default=False)
    goes_first = models.BooleanField(_("goes first"), default=False)
    why_not = models.PositiveSmallIntegerField(_("why it found no night"), default=0)

    class Meta:
        ordering = ("visit", "pk")
        verbose_name = _("proposed job")
        verbose_name_plural = _("proposed jobs")

    def __str__(self) -> str:
        return f"{self.visit_id} · {self.kind}"
