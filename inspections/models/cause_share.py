"""How often a cause is behind a fault, as the fleet sees it before its own faults have closed."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.record import Record, RecordQuerySet


class CauseShare(Record):
    """The share of one group of causes; groups without a row have the share that came with it."""

    group = models.CharField(_("cause"), max_length=20)
    percent = models.FloatField(_("share, %"))

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("group", "pk")
        verbose_name = _("share of a cause")
        verbose_name_plural = _("shares of causes")
        constraints = (
            models.UniqueConstraint(
                fields=("group",),
                condition=Q(superseded_at__isnull=True),
                name="cause_share_one_in_force",
            ),
            models.CheckConstraint(
                condition=Q(percent__gt=0) & Q(percent__lt=100), name="cause_share_is_a_part"
            ),
        )

    def __str__(self) -> str:
        return f"{self.group} · {self.percent:g} %"
