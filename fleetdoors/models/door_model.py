"""Door models: the limits of each type of door unit."""

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _


class DoorModel(models.Model):
    """A type of door unit with its electrical figures, its counter and its spring class.

    The default drive band, 31 to 33 V, and the 25 mm sensor offset are common practice, no source;
    the door maker's figures go in their place.
    """

    code = models.CharField(_("door model"), max_length=60, unique=True)
    supply_volts = models.FloatField(_("supply, V"), default=12.0)
    drive_volts = models.FloatField(_("drive, V"), default=32.0)
    drive_volts_low = models.FloatField(_("drive, lowest V"), default=31.0)
    drive_volts_high = models.FloatField(_("drive, highest V"), default=33.0)
    counter_digits = models.PositiveSmallIntegerField(_("counter digits"), default=6)
    counts_per_cycle = models.PositiveSmallIntegerField(
        _("counts per cycle"), default=1, choices=((1, _("one")), (2, _("two")))
    )
    cable_awg = models.PositiveSmallIntegerField(_("cable, AWG"), null=True, blank=True)
    cable_metres = models.FloatField(
        _("cable, m"), null=True, blank=True, validators=[MinValueValidator(0.0)]
    )
    sensor_offset_mm = models.FloatField(_("sensor offset, mm"), default=25.0)
    spring_class_cycles = models.PositiveIntegerField(
        _("spring class, cycles"), null=True, blank=True
    )

    class Meta:
        ordering = ("code",)
        verbose_name = _("door model")
        verbose_name_plural = _("door models")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(counts_per_cycle__in=(1, 2)),
                name="door_model_counts_per_cycle_one_or_two",
            ),
            models.CheckConstraint(
                condition=models.Q(counter_digits__range=(3, 9)),
                name="door_model_counter_digits_3_to_9",
            ),
            models.CheckConstraint(
                condition=models.Q(drive_volts_low__lte=models.F("drive_volts"))
                & models.Q(drive_volts__lte=models.F("drive_volts_high")),
                name="door_model_drive_band_ordered",
            ),
        )

    def __str__(self) -> str:
        return self.code
