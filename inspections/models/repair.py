"""Repairs: the physical process and the circumstances behind a fault, and who ended it."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.record import Record, RecordQuerySet
from inspections.models.fault import Fault
from inspections.models.visit import Visit


class Mechanism(models.TextChoices):
    """The physical process (groups of ISO 14224 table B.2, recalled; words are ours)."""

    WEAR = "wear", _("worn")
    FATIGUE = "fatigue", _("broke after many bends")
    CORROSION = "corrosion", _("rust or corrosion")
    CHAFE = "chafe", _("chafed")
    LOOSENESS = "looseness", _("came loose")
    HEAT = "heat", _("overheated")
    DIRT = "dirt", _("dirt, water or ice")


class Cause(models.TextChoices):
    """The circumstances (groups of ISO 14224, recalled; words are ours)."""

    DESIGN = "design", _("design")
    FITTING = "fitting", _("how it was fitted")
    OPERATION = "operation", _("how it was used")
    MAINTENANCE = "maintenance", _("how it was kept")
    SURROUNDINGS = "surroundings", _("weather, road, load")
    AGE = "age", _("age")
    NOT_KNOWN = "not_known", _("not known")


class Repair(Record):
    """What is said of a fault when it is closed, beside the fault's own mode and action."""

    fault = models.ForeignKey(
        Fault, models.PROTECT, related_name="repairs", verbose_name=_("fault")
    )
    visit = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="repairs",
        verbose_name=_("visit"),
    )
    mechanism = models.CharField(_("mechanism"), max_length=15, choices=Mechanism, blank=True)
    cause = models.CharField(_("cause"), max_length=15, choices=Cause, blank=True)
    repaired_at = models.DateTimeField(_("repaired at"))

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("fault", "repaired_at", "pk")
        verbose_name = _("repair")
        verbose_name_plural = _("repairs")
        constraints = (
            models.UniqueConstraint(
                fields=("fault",),
                condition=models.Q(superseded_at__isnull=True),
                name="repair_one_in_force",
            ),
        )

    def __str__(self) -> str:
        return f"{self.fault} · {self.repaired_at:%Y-%m-%d}"
