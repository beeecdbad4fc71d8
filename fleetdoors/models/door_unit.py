"""Door units and the trucks they were mounted on."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Depot
from fleetdoors.models.door_model import DoorModel
from fleetdoors.models.truck import Truck

if TYPE_CHECKING:
    from fleetdoors.models.user import User


class DoorUnitQuerySet(models.QuerySet["DoorUnit"]):
    """Door units by who may see them and whether they still work."""

    def visible_to(self, user: User) -> Self:
        """Doors on trucks of the depots that a person may see, and those in store there.

        A door in store belongs to the depot of its last truck; one that was never on a truck
        belongs to no depot, and whoever fits it first has to find it.
        """
        if user.is_superuser or not user.depots.exists():
            return self
        depots = Depot.objects.visible_to(user)
        here = Mounting.objects.open().filter(truck__depot__in=depots).values("door_id")
        in_store = DoorUnit.objects.in_store().filter(
            Q(last_depot__in=depots) | Q(last_depot__isnull=True)
        )
        return self.filter(Q(pk__in=here) | Q(pk__in=in_store.values("pk")))

    def in_store(self) -> Self:
        """Doors on no truck, with the depot of the truck that each was on last."""
        mounted = Mounting.objects.open().filter(door=OuterRef("pk"))
        last = Mounting.objects.filter(door=OuterRef("pk")).order_by("-mounted_on", "-pk")
        return self.filter(~Exists(mounted)).alias(
            last_depot=Subquery(last.values("truck__depot")[:1])
        )

    def in_service(self, *, as_of: date) -> Self:
        """Doors not retired on the day."""
        return self.filter(Q(retired_on__isnull=True) | Q(retired_on__gt=as_of))

    def raise_revision(self) -> int:
        """Mark every figure derived from these doors as stale; returns the number of doors."""
        return self.update(revision=F("revision") + 1)


class DoorUnit(models.Model):
    """A door with its serial number; what is on record about it begins at `record_from`."""

    serial = models.CharField(_("door"), max_length=80, unique=True)
    door_model = models.ForeignKey(
        DoorModel, models.PROTECT, related_name="doors", verbose_name=_("door model")
    )
    opening_cycles = models.PositiveBigIntegerField(
        _("opening cycles"),
        default=0,
        help_text=_("Lifetime cycles when the door's record begins."),
    )
    record_from = models.DateField(_("record from"), null=True, blank=True)
    retired_on = models.DateField(_("retired on"), null=True, blank=True)
    # Raised in the same transaction as any write that concerns the door: a derived row keeps the
    # revision it was computed from, so that late and back-dated entries make it stale too.
    revision = models.PositiveBigIntegerField(_("revision"), default=0, editable=False)

    objects = DoorUnitQuerySet.as_manager()

    class Meta:
        ordering = ("serial",)
        verbose_name = _("door")
        verbose_name_plural = _("doors")
        constraints = (
            models.CheckConstraint(
                condition=Q(retired_on__isnull=True)
                | Q(record_from__isnull=True)
                | Q(retired_on__gte=F("record_from")),
                name="door_retired_after_record_began",
            ),
        )

    def __str__(self) -> str:
        return self.serial


class MountingQuerySet(models.QuerySet["Mounting"]):
    """Mountings, present and past."""

    def open(self) -> Self:
        """Mountings that have not ended."""
        return self.filter(removed_on__isnull=True)

    def known(self, *, moment: datetime, day: date) -> Self:
        """Mountings begun before the day and entered before the moment."""
        return self.filter(mounted_on__lt=day, entered_at__lt=moment)


class Mounting(models.Model):
    """A door's stay on a truck."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="mountings", verbose_name=_("door")
    )
    truck = models.ForeignKey(
        Truck, models.PROTECT, related_name="mountings", verbose_name=_("truck")
    )
    mounted_on = models.DateField(_("mounted on"))
    removed_on = models.DateField(_("removed on"), null=True, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    end_entered_at = models.DateTimeField(_("end entered at"), null=True, blank=True)

    objects = MountingQuerySet.as_manager()

    class Meta:
        ordering = ("door", "mounted_on")
        verbose_name = _("mounting")
        verbose_name_plural = _("mountings")
        constraints = (
            models.UniqueConstraint(fields=("door", "mounted_on"), name="mounting_unique"),
            models.UniqueConstraint(
                fields=("door",), condition=Q(removed_on__isnull=True), name="door_on_one_truck"
            ),
            models.UniqueConstraint(
                fields=("truck",), condition=Q(removed_on__isnull=True), name="truck_has_one_door"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("mounted_on")),
                name="mounting_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.truck} · {self.mounted_on}"
