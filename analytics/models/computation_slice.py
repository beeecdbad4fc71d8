"""The doors of a large fleet, some depots at a time: who is done, and what it came to."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import Computation


class ComputationSliceQuerySet(models.QuerySet["ComputationSlice"]):
    """Slices by whether they are done."""

    def unfinished(self) -> Self:
        """Slices that nobody has computed."""
        return self.filter(finished_at__isnull=True).order_by("number")

    def finished_since(self, moment: datetime) -> Self:
        """Slices done after the moment."""
        return self.filter(finished_at__gt=moment)

    def asked_since(self, moment: datetime) -> Self:
        """Slices asked for after the moment."""
        return self.filter(asked_at__gt=moment)

    def kept_in_backup(self) -> Self:
        """None: a run that still computes is not kept, and a finished one has no slices."""
        return self.none()


class ComputationSlice(models.Model):
    """Some of a run's doors; computing them twice does no harm, and no queue needs to remember.

    `doors` holds the id of each door and the revision it had when the run began: whatever was
    written later makes the door stale. Number 0 stands for what rests on all doors at once.
    """

    generation = models.ForeignKey(
        Computation, models.CASCADE, verbose_name=_("computation"), related_name="slices"
    )
    number = models.PositiveIntegerField(_("number"))
    doors = models.JSONField(_("doors and their revisions"))
    asked_at = models.DateTimeField(_("asked for at"))
    finished_at = models.DateTimeField(_("finished at"), null=True, blank=True)

    objects = ComputationSliceQuerySet.as_manager()

    class Meta:
        ordering = ("generation", "number")
        verbose_name = _("slice of a computation")
        verbose_name_plural = _("slices of a computation")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "number"), name="computation_slice_unique"
            ),
        )

    def __str__(self) -> str:
        return f"{self.generation_id} · {self.number}"

    def take(self, *, now: datetime) -> bool:
        """Lock the slice in the transaction that writes its rows; whether they are still wanted."""
        mine = ComputationSlice.objects.select_for_update().unfinished().filter(pk=self.pk)
        if not mine.exists():
            # Somebody else has done it meanwhile, or the run was given up.
            return False
        self.finished_at = now
        self.save(update_fields=["finished_at"])
        return True
