"""Counters: the segments from which lifetime cycles are added up."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.door_unit import DoorUnit


class Counter(models.Model):
    """A counter's stay on a door; its own digits and count basis override the model's."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="counters", verbose_name=_("door")
    )
    serial = models.CharField(_("counter"), max_length=80)
    digits = models.PositiveSmallIntegerField(_("digits"), null=True, blank=True)
    counts_per_cycle = models.PositiveSmallIntegerField(
        _("counts per cycle"), null=True, blank=True
    )
    fitted_on = models.DateField(_("fitted on"))
    first_value = models.PositiveBigIntegerField(_("first value"))
    removed_on = models.DateField(_("removed on"), null=True, blank=True)
    last_value = models.PositiveBigIntegerField(_("last value"), null=True, blank=True)
    entered_at = models.DateTimeField(_("entered at"))
    end_entered_at = models.DateTimeField(_("end entered at"), null=True, blank=True)

    class Meta:
        ordering = ("door", "fitted_on")
        verbose_name = _("counter")
        verbose_name_plural = _("counters")
        constraints = (
            models.UniqueConstraint(fields=("door", "serial"), name="counter_unique"),
            models.UniqueConstraint(
                fields=("door",), condition=Q(removed_on__isnull=True), name="door_has_one_counter"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")),
                name="counter_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(counts_per_cycle__isnull=True) | Q(counts_per_cycle__in=(1, 2)),
                name="counter_counts_per_cycle_one_or_two",
            ),
            models.CheckConstraint(
                condition=Q(digits__isnull=True) | Q(digits__range=(3, 9)),
                name="counter_digits_3_to_9",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.serial}"
