"""Pieces spoken for: proposed by a verdict or a planned visit, until used or given free."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from inspections.models.fault_trace import FaultTrace
from inspections.models.visit import Visit


class PartReservationQuerySet(models.QuerySet["PartReservation"]):
    """Reservations by the page's question."""

    def standing(self) -> Self:
        """Neither used nor given free."""
        return self.filter(ended_at__isnull=True)

    def with_links(self) -> Self:
        """With part and what they are for, by part and age."""
        rows = self.select_related("part", "depot", "visit__door", "visit__truck", "trace__door")
        return rows.order_by("part__part_number", "reserved_at", "pk")


class PartReservation(models.Model):
    """Pieces of a part at a depot kept for one visit or one search for a fault."""

    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="reservations", verbose_name=_("depot")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="reservations", verbose_name=_("part")
    )
    quantity = models.PositiveIntegerField(_("pieces"))
    visit = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="reservations",
        verbose_name=_("visit"),
    )
    trace = models.ForeignKey(
        FaultTrace,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="reservations",
        verbose_name=_("fault trace"),
    )
    reserved_at = models.DateTimeField(_("reserved at"))
    reserved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("reserved by"),
    )
    ended_at = models.DateTimeField(_("ended at"), null=True, blank=True)
    was_used = models.BooleanField(_("was used"), default=False)
    reason = models.CharField(_("why it was given free"), max_length=200, blank=True)

    objects = PartReservationQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "part", "reserved_at")
        verbose_name = _("reservation")
        verbose_name_plural = _("reservations")
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="reservation_at_least_one"),
            models.CheckConstraint(
                condition=Q(visit__isnull=False) | Q(trace__isnull=False),
                name="reservation_is_for_something",
            ),
            models.UniqueConstraint(
                fields=("visit", "part"),
                condition=Q(ended_at__isnull=True),
                name="reservation_once_a_visit",
            ),
            models.UniqueConstraint(
                fields=("trace", "part"),
                condition=Q(ended_at__isnull=True),
                name="reservation_once_a_trace",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(was_used=True) | ~Q(reason=""),
                name="reservation_given_free_says_why",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("reserved_at")),
                name="reservation_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.part} · {self.quantity}"
