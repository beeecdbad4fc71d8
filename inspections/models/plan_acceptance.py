"""Accepted plans, and what each of them did to the visits planned before."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot
from inspections.models.visit import Visit


class PlanAcceptanceQuerySet(models.QuerySet["PlanAcceptance"]):
    """Acceptances by the page's question."""

    def in_force(self) -> Self:
        """Acceptances not taken back, the latest first."""
        return self.filter(undone_at__isnull=True).order_by("-accepted_at", "-pk")


class PlanAcceptance(models.Model):
    """A plan that a person accepted for a depot's nights; what it changed stands in its steps."""

    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="plan_acceptances", verbose_name=_("depot")
    )
    first_on = models.DateField(_("first night"))
    last_on = models.DateField(_("last night"))
    accepted_at = models.DateTimeField(_("accepted at"))
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", verbose_name=_("accepted by")
    )
    undone_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("taken back by"),
    )

    objects = PlanAcceptanceQuerySet.as_manager()

    class Meta:
        ordering = ("-accepted_at", "-pk")
        verbose_name = _("accepted plan")
        verbose_name_plural = _("accepted plans")
        constraints = (
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="plan_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | Q(undone_at__gte=F("accepted_at")),
                name="plan_undone_after_accepted",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.first_on}"


class PlanChange(models.TextChoices):
    """What a plan does to a visit."""

    ADDED = "added", _("added")
    MOVED = "moved", _("moved")
    REFILLED = "refilled", _("other work")
    DROPPED = "dropped", _("dropped")


class PlanStep(models.Model):
    """One change of an accepted plan: the visit before, the visit after, and why."""

    acceptance = models.ForeignKey(
        PlanAcceptance, models.PROTECT, related_name="steps", verbose_name=_("accepted plan")
    )
    change = models.CharField(_("change"), max_length=10, choices=PlanChange)
    before = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="steps_from",
        verbose_name=_("visit before"),
    )
    after = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="steps_to",
        verbose_name=_("visit after"),
    )
    why = models.CharField(_("why"), max_length=300, blank=True)
    # Of a visit that got other work: the kind and id of each job before, for taking it back.
    jobs_before = models.JSONField(_("jobs before"), default=list, blank=True)

    class Meta:
        ordering = ("acceptance", "pk")
        verbose_name = _("step of an accepted plan")
        verbose_name_plural = _("steps of an accepted plan")
        constraints = (
            models.CheckConstraint(
                condition=Q(change=PlanChange.ADDED, before__isnull=True, after__isnull=False)
                | Q(change=PlanChange.DROPPED, before__isnull=False, after__isnull=True)
                | Q(
                    change__in=(PlanChange.MOVED, PlanChange.REFILLED),
                    before__isnull=False,
                    after__isnull=False,
                ),
                name="plan_step_has_its_visits",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_change_display()} · {self.after or self.before}"
