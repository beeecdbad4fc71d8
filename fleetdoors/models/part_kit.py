"""Kits: parts that are taken from the shelf together for one kind of work."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.part import Part


class PartKit(models.Model):
    """A named set of parts for one kind of work; it has no stock of its own."""

    code = models.CharField(_("kit"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=200)

    class Meta:
        ordering = ("code",)
        verbose_name = _("kit")
        verbose_name_plural = _("kits")

    def __str__(self) -> str:
        return self.name or self.code


class PartKitLine(models.Model):
    """How many pieces of a part a kit takes."""

    kit = models.ForeignKey(PartKit, models.CASCADE, related_name="lines", verbose_name=_("kit"))
    part = models.ForeignKey(Part, models.PROTECT, related_name="in_kits", verbose_name=_("part"))
    quantity = models.PositiveIntegerField(_("pieces"), default=1)

    class Meta:
        ordering = ("kit", "part")
        verbose_name = _("part of a kit")
        verbose_name_plural = _("parts of a kit")
        constraints = (
            models.UniqueConstraint(fields=("kit", "part"), name="part_kit_part_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="part_kit_at_least_one"),
        )

    def __str__(self) -> str:
        return f"{self.kit} · {self.part} · {self.quantity}"
