"""What every record of an event has in common: when it was entered, and what it corrects."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class RecordQuerySet(models.QuerySet):
    """Rows of an event table, as they were known at some moment."""

    def in_force(self) -> Self:
        """Rows that no later row corrects."""
        return self.filter(superseded_at__isnull=True)

    def entered_before(self, moment: datetime) -> Self:
        """Rows entered before the moment and not yet corrected at it."""
        return self.filter(entered_at__lt=moment).filter(
            Q(superseded_at__isnull=True) | Q(superseded_at__gte=moment)
        )


class Record(models.Model):
    """An event as somebody entered it; a correction is a new row that points to the old one."""

    entered_at = models.DateTimeField(_("entered at"))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("entered by"),
    )
    corrects = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="correction",
        verbose_name=_("corrects"),
    )
    superseded_at = models.DateTimeField(_("corrected at"), null=True, blank=True)
    reason = models.CharField(_("reason of the correction"), max_length=200, blank=True)

    class Meta:
        abstract = True
