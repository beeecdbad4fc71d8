"""Depots: where trucks live, how hard their surroundings are on doors, and the hours there."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Self
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.units_in_use import in_words_lazy

if TYPE_CHECKING:
    from fleetdoors.models.user import User


class Setting(models.TextChoices):
    """Surroundings that shorten the intervals of preventive tasks."""

    NORMAL = "normal", _("normal")
    SALT = "salt", _("road salt")
    COAST = "coast", _("coast")
    DUST = "dust", _("dust")
    WASH_DOWN = "wash_down", _("wash-down")
    COLD = "cold", in_words_lazy(_("cold below −20 °C"))


def validate_setting(value: str) -> None:
    """Refuse a setting that is not made of the known words joined by a plus sign."""
    unknown = [word for word in value.split("+") if word not in Setting.values]
    if unknown:
        raise ValidationError(
            _("Setting must be made of %(known)s, joined by +; %(value)r is not."),
            params={"known": ", ".join(Setting.values), "value": value},
        )


def validate_timezone(value: str) -> None:
    """Refuse a name that the time zone database does not hold."""
    if value not in available_timezones():
        raise ValidationError(
            _("Time zone must be a name such as America/Chicago; %(value)r is not known."),
            params={"value": value},
        )


def validate_month_day(value: str) -> None:
    """Refuse anything but a day of the year written MM-DD."""
    try:
        # A leap year, so that 29 February is a day too.
        date.fromisoformat(f"2024-{value}")
    except ValueError as error:
        raise ValidationError(
            _("A day of the year is written MM-DD; %(value)r is not."), params={"value": value}
        ) from error


class DepotQuerySet(models.QuerySet["Depot"]):
    """Depots by who may see them."""

    def visible_to(self, user: User) -> Self:
        """The depots that a person may see: the named ones, or all when none is named."""
        if user.is_superuser:
            return self.order_by("code")
        named = list(user.depots.values_list("pk", flat=True))
        return (self.filter(pk__in=named) if named else self).order_by("code")

    def zones_by_day(self, moment: datetime) -> dict[date, list[str]]:
        """The names of the depots' time zones by the day it is there; queries once."""
        found: dict[date, list[str]] = {}
        for name in self.order_by().values_list("timezone", flat=True).distinct():
            found.setdefault(moment.astimezone(ZoneInfo(name)).date(), []).append(name)
        return found


class Depot(models.Model):
    """A yard with its time zone, its surroundings and its hours in the bay."""

    code = models.CharField(_("depot"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=200, blank=True)
    timezone = models.CharField(
        _("time zone"), max_length=64, default="UTC", validators=[validate_timezone]
    )
    setting = models.CharField(
        _("setting"), max_length=80, default=Setting.NORMAL, validators=[validate_setting]
    )
    salt_from = models.CharField(
        _("salt season from"), max_length=5, default="11-01", validators=[validate_month_day]
    )
    salt_until = models.CharField(
        _("salt season until"), max_length=5, default="03-31", validators=[validate_month_day]
    )
    bay_hours_per_day = models.FloatField(_("bay hours per day"), null=True, blank=True)

    objects = DepotQuerySet.as_manager()

    class Meta:
        ordering = ("code",)
        verbose_name = _("depot")
        verbose_name_plural = _("depots")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(bay_hours_per_day__isnull=True)
                | models.Q(bay_hours_per_day__range=(0, 24 * 50)),
                name="depot_bay_hours_not_negative",
            ),
        )

    def __str__(self) -> str:
        return self.name or self.code

    @property
    def zone(self) -> ZoneInfo:
        """The time zone in which this depot's moments are written and shown."""
        return ZoneInfo(self.timezone)

    @property
    def settings_in_force(self) -> tuple[str, ...]:
        """The words of the setting, without 'normal'."""
        return tuple(word for word in self.setting.split("+") if word != Setting.NORMAL)
