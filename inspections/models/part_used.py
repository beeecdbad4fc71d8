"""Parts used."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, DoorUnit, Part
from fleetdoors.models.record import Record, RecordQuerySet


class PartUsed(Record):
    """A quantity of a part used on a door; only what is entered here draws on the stock."""

    door = models.ForeignKey(DoorUnit, models.PROTECT, related_name="parts_used")
    used_at = models.DateTimeField(_("used at"))
    part = models.ForeignKey(Part, models.PROTECT, related_name="uses")
    quantity = models.PositiveIntegerField(_("quantity"))
    depot = models.ForeignKey(
        Depot, models.PROTECT, null=True, blank=True, related_name="parts_used"
    )
    # An imported use is history: the count that came with it has seen it already.
    draws_on_stock = models.BooleanField(_("draws on the stock"), default=False)

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("door", "used_at", "pk")
        verbose_name = _("part used")
        verbose_name_plural = _("parts used")
        indexes = (models.Index(fields=("part", "used_at"), name="part_used_history"),)
        constraints = (
            models.CheckConstraint(condition=Q(quantity__gte=1), name="part_used_at_least_one"),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.part} · {self.quantity}"
