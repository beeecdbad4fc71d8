"""What other systems posted: which of their own ids stands for which reading."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import MachineToken
from inspections.models.counter_reading import CounterReading


class MachineEntry(models.Model):
    """A reading that a system posted, known by that system's own id, so that it is taken once.

    Only what was taken is kept here: a refused row may come again once its cause is mended.
    """

    token = models.ForeignKey(
        MachineToken, models.PROTECT, related_name="entries", verbose_name=_("token")
    )
    client_id = models.CharField(_("id in the system"), max_length=64)
    # What was posted, as a digest: the same id with another content is no repetition.
    content = models.CharField(_("content"), max_length=64)
    reading = models.ForeignKey(
        CounterReading, models.PROTECT, related_name="+", verbose_name=_("reading")
    )
    received_at = models.DateTimeField(_("received at"))

    objects: ClassVar[models.Manager[MachineEntry]] = models.Manager()

    class Meta:
        ordering = ("-received_at", "-pk")
        verbose_name = _("entry from a system")
        verbose_name_plural = _("entries from systems")
        constraints = (
            models.UniqueConstraint(fields=("token", "client_id"), name="machine_entry_taken_once"),
        )

    def __str__(self) -> str:
        return f"{self.token} · {self.client_id}"
