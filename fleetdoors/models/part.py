"""The parts catalogue."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.component import Component
from fleetdoors.models.door_model import DoorModel


class Part(models.Model):
    """A part as it is bought: its component, cost, lead time, pack and marking."""

    part_number = models.CharField(_("part"), max_length=80, unique=True)
    name = models.CharField(_("name"), max_length=200)
    component = models.ForeignKey(
        Component,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="parts",
        verbose_name=_("component"),
    )
    unit_cost = models.DecimalField(
        _("unit cost"), max_digits=12, decimal_places=2, null=True, blank=True
    )
    currency = models.CharField(_("currency"), max_length=3, blank=True)
    lead_time_days = models.FloatField(_("lead time, days"), null=True, blank=True)
    lead_time_sd_days = models.FloatField(
        _("lead time, standard deviation, days"), null=True, blank=True
    )
    pack_size = models.PositiveIntegerField(_("pack size"), default=1)
    shelf_life_days = models.PositiveIntegerField(_("shelf life, days"), null=True, blank=True)
    revision = models.CharField(_("revision"), max_length=40, blank=True)
    replaces = models.ForeignKey(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="replaced_by",
        verbose_name=_("replaces"),
    )
    rating = models.CharField(
        _("rating"),
        max_length=100,
        blank=True,
        help_text=_("Type, current and voltage as marked on the part."),
    )
    fits = models.ManyToManyField(
        DoorModel,
        blank=True,
        related_name="parts",
        verbose_name=_("fits"),
        help_text=_("Leave empty when it fits every door model."),
    )

    class Meta:
        ordering = ("part_number",)
        verbose_name = _("part")
        verbose_name_plural = _("parts")
        constraints = (
            models.CheckConstraint(
                condition=Q(unit_cost__isnull=True) | Q(unit_cost__gte=0),
                name="part_cost_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(lead_time_days__isnull=True) | Q(lead_time_days__gte=0),
                name="part_lead_time_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(lead_time_sd_days__isnull=True) | Q(lead_time_sd_days__gte=0),
                name="part_lead_time_spread_not_negative",
            ),
            models.CheckConstraint(condition=Q(pack_size__gte=1), name="part_pack_at_least_one"),
        )

    def __str__(self) -> str:
        return f"{self.name} ({self.part_number})"
