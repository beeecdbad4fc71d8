"""Parts used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Part
from fleetdoors.models.record import Record, RecordQuerySet

if TYPE_CHECKING:
    from inspections.models.fault import Fault


class PartUsedQuerySet(RecordQuerySet):
    """Parts used by the page's question."""

    def used_with(self, fault: Fault) -> Self:
        """Parts in force entered for the moment a fault of the door was found or repaired."""
        moments = [fault.found_at, *fault.repairs.values_list("repaired_at", flat=True)]
        same = self.in_force().filter(door_id=fault.door_id, used_at__in=moments)
        return same.select_related("part").order_by("pk")


class PartUsed(Record):
    """A quantity of a part used on a door; only what is entered here draws on the stock."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="parts_used", verbose_name=_("door")
    )
    used_at = models.DateTimeField(_("used at"))
    part = models.ForeignKey(Part, models.PROTECT, related_name="uses", verbose_name=_("part"))
    quantity = models.PositiveIntegerField(_("quantity"))
    depot = models.ForeignKey(
        Depot,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="parts_used",
        verbose_name=_("depot"),
    )
    # An imported use is history: the count that came with it has seen it already.
    draws_on_stock = models.BooleanField(_("draws on the stock"), default=False)
    # Set where no other use took this one's place: it was not used at all.
    taken_back_because = models.CharField(_("why it was taken back"), max_length=200, blank=True)

    objects = PartUsedQuerySet.as_manager()

    class Meta:
        ordering = ("door", "used_at", "pk")
        verbose_name = _("part used")
        verbose_name_plural = _("parts used")
        indexes = (models.Index(fields=("part", "used_at"), name="part_used_history"),)
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="part_used_at_least_one"),
            models.CheckConstraint(
                condition=Q(taken_back_because="") | Q(superseded_at__isnull=False),
                name="part_used_taken_back_is_not_in_force",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.part} · {self.quantity}"
