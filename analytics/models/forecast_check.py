"""How good past forecasts were: runs that repeat them as of past dates, and their scores."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import Sum
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import link


class ForecastCheckQuerySet(models.QuerySet["ForecastCheck"]):
    """Checks by whether they can be looked at."""

    def finished(self) -> Self:
        """Checks that came to an end, the newest first."""
        return self.filter(finished_at__isnull=False).order_by("-as_of", "-pk")

    def known_at(self, moment: datetime) -> Self:
        """Checks whose figures were there at the moment, the newest first."""
        return self.finished().filter(as_of__lte=moment)

    def kept_in_backup(self) -> Self:
        """Checks that go into a backup: one that still runs could never be finished there."""
        return self.finished()

    def running_since(self, moment: datetime) -> Self:
        """Checks begun after the moment that have not come to an end, the newest first."""
        return self.filter(finished_at__isnull=True, started_at__gt=moment).order_by("-pk")


class ForecastCheck(models.Model):
    """One repetition of past forecasts, and the factors on demand learned from it."""

    as_of = models.DateTimeField(_("as of"))
    started_at = models.DateTimeField(_("started at"))
    finished_at = models.DateTimeField(_("finished at"), null=True, blank=True)
    origins = models.PositiveIntegerField(_("past dates"), default=0)
    origins_done = models.PositiveIntegerField(_("past dates done"), default=0)
    first_origin_on = models.DateField(_("first past date"), null=True, blank=True)
    last_origin_on = models.DateField(_("last past date"), null=True, blank=True)
    doors = models.PositiveIntegerField(_("doors"), default=0)
    doors_on_record = models.PositiveIntegerField(_("doors on record"), default=0)
    factors = models.JSONField(_("factors on demand by component"), default=dict)

    objects = ForecastCheckQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        verbose_name = _("check of forecasts")
        verbose_name_plural = _("checks of forecasts")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(origins_done__lte=models.F("origins")),
                name="forecast_check_done_within_origins",
            ),
        )

    def __str__(self) -> str:
        return f"{self.as_of:%Y-%m-%d %H:%M}"


class ForecastKind(models.TextChoices):
    """What was forecast."""

    DUE_DATE = "due date", _("due date")
    DEMAND = "demand", _("demand")


class ForecastScoreQuerySet(models.QuerySet["ForecastScore"]):
    """Scores by the page's question."""

    def shown(self) -> Self:
        """Scores of the newest finished check."""
        newest = ForecastCheck.objects.finished().values("pk")[:1]
        return self.filter(forecast_check=newest)

    def kept_in_backup(self) -> Self:
        """Scores that go into a backup."""
        return self.filter(forecast_check__in=ForecastCheck.objects.finished().values("pk"))

    def at_depots(self, depot_ids: tuple[int, ...] | None) -> Self:
        """Scores of these depots; every one when None is given."""
        return self if depot_ids is None else self.filter(depot__in=depot_ids)

    def due_dates(self) -> Self:
        """Scores of due dates."""
        return self.filter(kind=ForecastKind.DUE_DATE)

    def demand(self) -> Self:
        """Scores of demand."""
        return self.filter(kind=ForecastKind.DEMAND)

    def summed_by(self, *fields: str) -> list[dict[str, Any]]:
        """Counts and errors added up over everything but these fields; runs one query."""
        names = ("forecasts", "inside", "error", "naive_error", "expected", "actual")
        sums = {f"{name}_sum": Sum(name) for name in names}
        return list(self.values(*fields).annotate(**sums).order_by(*fields))


class ForecastScore(models.Model):
    """Forecasts of one kind at one depot (and of one part), held against what happened.

    Errors are sums: days for due dates, pieces for demand. The naive method draws the last two
    readings on, or takes what was used in the year before.
    """

    forecast_check = models.ForeignKey(
        ForecastCheck, models.CASCADE, verbose_name=_("check"), related_name="scores"
    )
    kind = models.CharField(_("kind"), max_length=10, choices=ForecastKind)
    depot = link("fleetdoors.Depot", _("depot"))
    part = link("fleetdoors.Part", _("part"), null=True)
    forecasts = models.PositiveIntegerField(_("forecasts"))
    inside = models.PositiveIntegerField(_("inside the range"))
    error = models.FloatField(_("sum of errors"))
    naive_error = models.FloatField(_("sum of errors of the naive method"))
    expected = models.FloatField(_("sum expected"), default=0.0)
    actual = models.FloatField(_("sum that happened"), default=0.0)

    objects = ForecastScoreQuerySet.as_manager()

    class Meta:
        verbose_name = _("score of forecasts")
        verbose_name_plural = _("scores of forecasts")
        constraints = (
            models.UniqueConstraint(
                fields=("forecast_check", "kind", "depot", "part"), name="forecast_score_unique"
            ),
            models.UniqueConstraint(
                fields=("forecast_check", "kind", "depot"),
                condition=models.Q(part__isnull=True),
                name="forecast_score_unique_without_part",
            ),
            models.CheckConstraint(
                condition=models.Q(inside__lte=models.F("forecasts")),
                name="forecast_score_inside_within_forecasts",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} · {self.depot_id} · {self.inside}/{self.forecasts}"
