"""Stock: what was counted, and how it came to differ from the ledger."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Depot, Part
from fleetdoors.models.record import Record, RecordQuerySet
from inspections.models.stock_place import StockPlace


class StockCount(Record):
    """What lay at a place when it was counted, what was on order, and the service level wanted.

    Without a place it is the depot's shelf. The ledger takes the difference up as a movement.
    """

    depot = models.ForeignKey(
        Depot, models.PROTECT, related_name="stock_counts", verbose_name=_("depot")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="stock_counts", verbose_name=_("part")
    )
    place = models.ForeignKey(
        StockPlace,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="counts",
        verbose_name=_("van or place set aside"),
    )
    counted_at = models.DateTimeField(_("counted at"))
    on_hand = models.PositiveIntegerField(_("on hand"))
    on_order = models.PositiveIntegerField(_("on order"), default=0)
    expected_on = models.DateField(_("expected on"), null=True, blank=True)
    service_level = models.FloatField(
        _("service level"),
        null=True,
        blank=True,
        help_text=_("Chance of no shortage in one replenishment cycle, between 0.5 and 0.999."),
    )

    difference_reason = models.CharField(
        _("why it differs from the record"), max_length=200, blank=True
    )

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("depot", "part", "counted_at", "pk")
        verbose_name = _("stock count")
        verbose_name_plural = _("stock counts")
        constraints = (
            models.UniqueConstraint(
                fields=("depot", "part", "counted_at"),
                condition=Q(superseded_at__isnull=True, place__isnull=True),
                name="stock_one_count_in_force",
            ),
            models.UniqueConstraint(
                fields=("place", "part", "counted_at"),
                condition=Q(superseded_at__isnull=True, place__isnull=False),
                name="stock_one_count_in_force_at_place",
            ),
            models.CheckConstraint(
                condition=Q(service_level__isnull=True) | Q(service_level__range=(0.5, 0.9999)),
                name="stock_service_level_0_5_to_1",
            ),
        )

    def __str__(self) -> str:
        return f"{self.depot} · {self.part} · {self.on_hand}"
