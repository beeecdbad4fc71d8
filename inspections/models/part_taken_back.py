"""What was written of a part by mistake, and was taken back: who said so, when and why."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit, Fitment
from inspections.models.part_used import PartUsed


class PartTakenBackQuerySet(models.QuerySet["PartTakenBack"]):
    """What was taken back by the page's question."""

    def on_door(self, door: DoorUnit) -> Self:
        """Everything taken back on the door, the latest first, with what it was about."""
        rows = self.filter(door=door).select_related(
            "fitment__component", "fitment__part", "used__part", "restored", "entered_by"
        )
        return rows.order_by("-entered_at", "-pk")


class PartTakenBack(models.Model):
    """A stay or a use that was none.

    `fitment` is the stay that never was, or the one whose end was none; `restored` is the row of
    the life that goes on instead; `used` is the use that was taken back.
    """

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="parts_taken_back", verbose_name=_("door")
    )
    fitment = models.OneToOneField(
        Fitment,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="taken_back",
        verbose_name=_("fitted part"),
    )
    restored = models.OneToOneField(
        Fitment,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="put_back",
        verbose_name=_("goes on instead"),
    )
    used = models.OneToOneField(
        PartUsed,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="taken_back",
        verbose_name=_("part used"),
    )
    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    reason = models.CharField(_("why it was taken back"), max_length=200)

    objects = PartTakenBackQuerySet.as_manager()

    class Meta:
        ordering = ("-entered_at", "-pk")
        verbose_name = _("part taken back")
        verbose_name_plural = _("parts taken back")
        constraints = (
            models.CheckConstraint(
                condition=Q(fitment__isnull=False) | Q(used__isnull=False),
                name="part_taken_back_names_what",
            ),
            models.CheckConstraint(
                condition=Q(restored__isnull=True) | Q(fitment__isnull=False),
                name="part_taken_back_restores_for_a_stay",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="part_taken_back_says_why"),
        )

    def __str__(self) -> str:
        return str(self.fitment or self.used)

    @property
    def is_removal(self) -> bool:
        """Whether only the end of a stay was taken back: the same part stays in place."""
        return self.restored_id is not None and (
            self.restored is not None and self.restored.corrects_id == self.fitment_id
        )
