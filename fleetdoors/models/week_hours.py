"""The usual week: hours of the bay, when trucks are home, and where trained people are."""

from __future__ import annotations

from datetime import date, time
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Depot
from fleetdoors.models.truck import Truck

DAY_MINUTES = 24 * 60


class Weekday(models.IntegerChoices):
    """Days of the week as Python counts them; a night belongs to the day on which it begins."""

    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class HomeWindow(models.Model):
    """When trucks are home on a day of the week; without times, for as long as the bay is open."""

    weekday = models.PositiveSmallIntegerField(_("day"), choices=Weekday)
    is_home = models.BooleanField(_("home"), default=True)
    home_from = models.TimeField(_("home from"), null=True, blank=True)
    home_until = models.TimeField(_("home until"), null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def home_minutes(self) -> float:
        """Minutes at home, past midnight too; the same time twice is the whole day round."""
        if not self.is_home:
            return 0.0
        if self.home_from is None or self.home_until is None:
            return float(DAY_MINUTES)
        stay = _minute_of(self.home_until) - _minute_of(self.home_from)
        return float(stay % DAY_MINUTES or DAY_MINUTES)


def _minute_of(moment: time) -> int:
    return moment.hour * 60 + moment.minute


def both_times_or_none(name: str) -> models.CheckConstraint:
    """A window has two ends or none."""
    return models.CheckConstraint(
        condition=Q(home_from__isnull=True, home_until__isnull=True)
        | Q(home_from__isnull=False, home_until__isnull=False),
        name=name,
    )


class DepotWeekday(HomeWindow):
    """A depot on a day of the week: hours of its bay, and when its trucks are home."""

    depot = models.ForeignKey(
        Depot, models.CASCADE, related_name="weekdays", verbose_name=_("depot")
    )
    bay_hours = models.FloatField(
        _("hours in the bay"),
        null=True,
        blank=True,
        help_text=_("Empty = the depot's hours per day."),
    )

    class Meta:
        ordering = ("depot", "weekday")
        verbose_name = _("day of a depot's week")
        verbose_name_plural = _("days of a depot's week")
        constraints = (
            models.UniqueConstraint(fields=("depot", "weekday"), name="depot_weekday_once"),
            models.CheckConstraint(
                condition=Q(bay_hours__isnull=True) | Q(bay_hours__range=(0, 24 * 50)),
                name="depot_weekday_hours_not_negative",
            ),
            both_times_or_none("depot_weekday_window_has_two_ends"),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.get_weekday_display()}"


class TruckWeekday(HomeWindow):
    """A truck that keeps other hours than its depot's, on a day of the week."""

    truck = models.ForeignKey(
        Truck, models.CASCADE, related_name="weekdays", verbose_name=_("truck")
    )

    class Meta:
        ordering = ("truck", "weekday")
        verbose_name = _("day of a truck's week")
        verbose_name_plural = _("days of a truck's week")
        constraints = (
            models.UniqueConstraint(fields=("truck", "weekday"), name="truck_weekday_once"),
            both_times_or_none("truck_weekday_window_has_two_ends"),
        )

    def __str__(self) -> str:
        return f"{self.truck} · {self.get_weekday_display()}"


class PersonWeekday(models.Model):
    """Where a person works on a day of the week, and for how long."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.CASCADE,
        related_name="weekdays",
        verbose_name=_("person"),
    )
    depot = models.ForeignKey(Depot, models.CASCADE, related_name="+", verbose_name=_("depot"))
    weekday = models.PositiveSmallIntegerField(_("day"), choices=Weekday)
    hours = models.FloatField(_("hours"))

    class Meta:
        ordering = ("person", "weekday", "depot")
        verbose_name = _("day of a person's week")
        verbose_name_plural = _("days of a person's week")
        constraints = (
            models.UniqueConstraint(
                fields=("person", "depot", "weekday"), name="person_weekday_once"
            ),
            models.CheckConstraint(
                condition=Q(hours__gt=0, hours__lte=24), name="person_weekday_hours_0_to_24"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person} · {self.get_weekday_display()}"


class ClosedDayQuerySet(models.QuerySet["ClosedDay"]):
    """Closed days by the page's question."""

    def from_day(self, day: date) -> Self:
        """Those still to come, the first one first."""
        return self.filter(closed_on__gte=day).order_by("closed_on")


class ClosedDay(models.Model):
    """A date on which nobody works in a depot's bay."""

    depot = models.ForeignKey(
        Depot, models.CASCADE, related_name="closed_days", verbose_name=_("depot")
    )
    closed_on = models.DateField(_("closed on"))
    reason = models.CharField(_("reason"), max_length=100, blank=True)

    objects = ClosedDayQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "closed_on")
        verbose_name = _("closed day")
        verbose_name_plural = _("closed days")
        constraints = (
            models.UniqueConstraint(fields=("depot", "closed_on"), name="closed_day_once"),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.closed_on}"
