"""Trucks, the depots they have lived at, and the days they were laid up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Depot

if TYPE_CHECKING:
    from fleetdoors.models.user import User


class TruckQuerySet(models.QuerySet["Truck"]):
    """Trucks by who may see them."""

    def visible_to(self, user: User) -> Self:
        """Trucks of the depots that a person may see."""
        return self.filter(depot__in=Depot.objects.visible_to(user)).order_by("fleet_number")


class Truck(models.Model):
    """A vehicle with the identification that its maintenance record must carry."""

    fleet_number = models.CharField(_("truck"), max_length=60, unique=True)
    depot = models.ForeignKey(Depot, models.PROTECT, related_name="trucks", verbose_name=_("depot"))
    route_kind = models.CharField(_("route kind"), max_length=60, blank=True)
    make = models.CharField(_("make"), max_length=100, blank=True)
    serial_number = models.CharField(_("serial number"), max_length=100, blank=True)
    model_year = models.PositiveIntegerField(_("model year"), null=True, blank=True)
    tire_size = models.CharField(_("tire size"), max_length=60, blank=True)
    owner = models.CharField(_("owner, if not our own"), max_length=200, blank=True)
    in_service_on = models.DateField(_("in service on"), null=True, blank=True)
    disposed_on = models.DateField(_("disposed on"), null=True, blank=True)

    objects = TruckQuerySet.as_manager()

    class Meta:
        ordering = ("fleet_number",)
        verbose_name = _("truck")
        verbose_name_plural = _("trucks")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(disposed_on__isnull=True)
                | models.Q(in_service_on__isnull=True)
                | models.Q(disposed_on__gte=models.F("in_service_on")),
                name="truck_disposed_after_in_service",
            ),
        )

    def __str__(self) -> str:
        return self.fleet_number


class TruckDepot(models.Model):
    """A stay of a truck at a depot, where its past matters."""

    truck = models.ForeignKey(Truck, models.PROTECT, related_name="stays", verbose_name=_("truck"))
    depot = models.ForeignKey(Depot, models.PROTECT, related_name="stays", verbose_name=_("depot"))
    from_on = models.DateField(_("from"))
    until_on = models.DateField(_("until"), null=True, blank=True)

    class Meta:
        ordering = ("truck", "from_on")
        verbose_name = _("stay at a depot")
        verbose_name_plural = _("stays at depots")
        constraints = (
            models.UniqueConstraint(fields=("truck", "from_on"), name="truck_stay_unique"),
            models.CheckConstraint(
                condition=models.Q(until_on__isnull=True)
                | models.Q(until_on__gte=models.F("from_on")),
                name="truck_stay_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.truck} · {self.depot} · {self.from_on}"


class LayUp(models.Model):
    """Days on which a truck was out of use, so that no cycles were to be expected."""

    truck = models.ForeignKey(
        Truck, models.PROTECT, related_name="lay_ups", verbose_name=_("truck")
    )
    from_on = models.DateField(_("from"))
    until_on = models.DateField(_("until"), null=True, blank=True)
    reason = models.CharField(_("reason"), max_length=200, blank=True)

    class Meta:
        ordering = ("truck", "from_on")
        verbose_name = _("lay-up")
        verbose_name_plural = _("lay-ups")
        constraints = (
            models.UniqueConstraint(fields=("truck", "from_on"), name="lay_up_unique"),
            models.CheckConstraint(
                condition=models.Q(until_on__isnull=True)
                | models.Q(until_on__gte=models.F("from_on")),
                name="lay_up_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.truck} · {self.from_on}"
