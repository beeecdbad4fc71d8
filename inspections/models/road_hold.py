"""Road holds: a truck that must not be driven, or a door that must not be powered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Truck

if TYPE_CHECKING:
    from fleetdoors.models import User


class HoldReason(models.TextChoices):
    """Why a truck is kept."""

    NOT_SECURED = "not_secured", _("door cannot be secured closed")
    SPRING_OR_CABLE = "spring_or_cable", _("spring or lift cable damaged")
    DROPS = "drops", _("door drops")
    RUNS_BY_ITSELF = "runs_by_itself", _("door moves by itself or does not stop")
    REVERSE = "reverse", _("does not go back from an obstruction")
    OTHER = "other", _("other")


# What keeps the truck in the yard; the others take the power off the door only.
KEEPS_THE_TRUCK = (
    HoldReason.NOT_SECURED,
    HoldReason.SPRING_OR_CABLE,
    HoldReason.DROPS,
    HoldReason.OTHER,
)

# While one of these stands, the door is not run, not even to test it.
NO_POWER = (HoldReason.SPRING_OR_CABLE, HoldReason.DROPS, HoldReason.RUNS_BY_ITSELF)


class RoadHoldQuerySet(models.QuerySet["RoadHold"]):
    """Road holds by the page's question."""

    def standing(self) -> Self:
        """Holds that nobody has lifted, the oldest first."""
        return self.filter(lifted_at__isnull=True).order_by("placed_at", "pk")

    def forbid_power(self, door: DoorUnit) -> Self:
        """Standing holds on the door that forbid every powered test."""
        return self.standing().filter(door=door, because__in=NO_POWER)

    def visible_to(self, user: User) -> Self:
        """Holds at depots that a person may see, and on doors in store there."""
        if user.is_superuser or not user.depots.exists():
            return self
        in_store = Q(truck__isnull=True, door__in=DoorUnit.objects.visible_to(user))
        return self.filter(Q(truck__depot__in=Depot.objects.visible_to(user)) | in_store)

    def at_depots(self, depots: models.QuerySet[Depot]) -> Self:
        """Holds on trucks that live at the depots."""
        return self.filter(truck__depot__in=depots)


class RoadHold(models.Model):
    """Placed by a person's finding; lifted by a named person who signs for the repair."""

    truck = models.ForeignKey(
        Truck,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="road_holds",
        verbose_name=_("truck"),
    )
    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="road_holds", verbose_name=_("door")
    )
    because = models.CharField(_("because"), max_length=20, choices=HoldReason)
    detail = models.CharField(_("what was seen"), max_length=300, blank=True)
    placed_at = models.DateTimeField(_("placed at"))
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("placed by"),
    )
    lifted_at = models.DateTimeField(_("lifted at"), null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("lifted by"),
    )
    signed_by = models.CharField(_("signed by"), max_length=100, blank=True)
    signed_role = models.CharField(_("role of the signer"), max_length=100, blank=True)
    what_was_done = models.CharField(_("what was done"), max_length=300, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    end_entered_at = models.DateTimeField(_("end entered at"), null=True, blank=True)

    objects = RoadHoldQuerySet.as_manager()

    class Meta:
        ordering = ("-placed_at", "-pk")
        verbose_name = _("road hold")
        verbose_name_plural = _("road holds")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "because"),
                condition=Q(lifted_at__isnull=True),
                name="road_hold_one_for_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True)
                | (~Q(signed_by="") & ~Q(what_was_done="") & Q(lifted_by__isnull=False)),
                name="road_hold_lifted_is_signed",
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True) | Q(lifted_at__gte=F("placed_at")),
                name="road_hold_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.truck or self.door} · {self.get_because_display()}"

    @property
    def keeps_truck(self) -> bool:
        """Whether the truck must not be driven; otherwise the door must not be powered."""
        return self.because in KEEPS_THE_TRUCK

    @property
    def depot(self) -> Depot | None:
        """Where the truck is at home; None for a door on no truck."""
        return self.truck.depot if self.truck else None
