"""What the score is made of: sums by month, depot and door model, never by person."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class Measure(models.TextChoices):
    """What a row counts: a part of a whole, or an amount for an amount."""

    ON_TIME = "on_time", _("tasks done in their window, of those whose window closed")
    EARLY = "early", _("tasks done before their window, of those whose window closed")
    OVERDUE = "overdue", _("tasks past their window at the month's end, of all")
    OPEN_MINUTES = "open_minutes", _("minutes of tasks due at the month's end, for each door")
    PLANNED = "planned", _("minutes of planned work, of all")
    OFF_ROAD = "off_road", _("days off the road, of days in service")
    REPEATS = "repeats", _("repairs that came back, of all")
    NONE_FOUND = "none_found", _("calls without a fault found, of all")
    FOUND = "found", _("defects found at preventive work, for each visit")
    FRESH = "fresh", _("doors read within 30 days of the month's end, of all")
    PARTS_COST = "parts_cost", _("money for parts, for cycles run")
    LABOUR = "labour", _("minutes of work, for cycles run")
    UNPRICED = "unpriced", _("pieces used without a price, of all")
    LABOUR_COST = "labour_cost", _("money for work at the depots' prices, for cycles run")
    UNRATED = "unrated", _("minutes of work without a price, of all")
    TIMED = "timed", _("visits with their own minutes, of all")
    OUTSIDE = "outside", _("money for work done outside, for cycles run")
    OUTSIDE_ELSE = "outside_else", _("outside invoices in another currency, of all")


class ScoreMonthQuerySet(DerivedQuerySet):
    """Sums by the page's question."""

    def of_model(self, door_model_id: int | None) -> Self:
        """Sums of one door model; of every one when None is given."""
        return self if door_model_id is None else self.filter(door_model=door_model_id)


class ScoreMonth(models.Model):
    """One measure of a month, for the doors of one model at one depot."""

    generation = generation()
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    door_model = link("fleetdoors.DoorModel", _("door model"), null=True)
    month_on = models.DateField(_("month"))
    measure = models.CharField(_("measure"), max_length=15, choices=Measure)
    amount = models.FloatField(_("amount"))
    out_of = models.FloatField(_("out of"))

    objects = ScoreMonthQuerySet.as_manager()

    class Meta:
        ordering = ("month_on", "pk")
        verbose_name = _("measure of a month")
        verbose_name_plural = _("measures of months")
        indexes = (models.Index(fields=("generation", "depot"), name="score_month_depot"),)

    def __str__(self) -> str:
        return f"{self.measure} · {self.month_on:%Y-%m}"
