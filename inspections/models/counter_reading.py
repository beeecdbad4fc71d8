"""Counter readings: what somebody read off a counter, and whether it is believed."""

from __future__ import annotations

from datetime import datetime
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit
from fleetdoors.models.record import Record, RecordQuerySet


class Source(models.TextChoices):
    """How a reading came in."""

    HAND = "hand", _("by hand")
    IMPORT = "import", _("imported")
    DEVICE = "device", _("device")


class ReadingStatus(models.TextChoices):
    """Whether a reading takes part in the figures."""

    ACCEPTED = "accepted", _("accepted")
    HELD = "held", _("held")


class CounterReadingQuerySet(RecordQuerySet):
    """Readings by the page's question."""

    def accepted(self) -> Self:
        """Readings in force that take part in the figures."""
        return self.in_force().filter(status=ReadingStatus.ACCEPTED)

    def held(self) -> Self:
        """Readings in force that wait to be settled."""
        return self.in_force().filter(status=ReadingStatus.HELD)

    def before(self, moment: datetime) -> Self:
        """Readings taken before the moment, the nearest first."""
        return self.filter(read_at__lt=moment).newest_first()

    def newest_first(self) -> Self:
        """Readings from the latest to the earliest."""
        return self.order_by("-read_at", "-pk")


class CounterReading(Record):
    """A counter value at a moment.

    `ruling` is a person's word on it (empty = nobody spoke); `status` is what holds at present,
    by that word or else by the plausibility check, and is rebuilt with the figures.
    """

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="readings", verbose_name=_("door")
    )
    read_at = models.DateTimeField(_("read at"))
    counter_value = models.PositiveBigIntegerField(_("counter"))
    read_by = models.CharField(_("read by"), max_length=100, blank=True)
    source = models.CharField(_("source"), max_length=10, choices=Source, default=Source.HAND)
    ruling = models.CharField(_("ruling"), max_length=10, choices=ReadingStatus, blank=True)
    status = models.CharField(
        _("status"), max_length=10, choices=ReadingStatus, default=ReadingStatus.ACCEPTED
    )

    objects = CounterReadingQuerySet.as_manager()

    class Meta:
        ordering = ("door", "read_at", "pk")
        verbose_name = _("counter reading")
        verbose_name_plural = _("counter readings")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "read_at"),
                condition=Q(superseded_at__isnull=True),
                name="reading_one_in_force",
            ),
            models.CheckConstraint(
                condition=Q(superseded_at__isnull=True) | Q(superseded_at__gte=F("entered_at")),
                name="reading_corrected_after_entry",
            ),
        )
        indexes = (
            models.Index(fields=("status",), name="reading_held", condition=Q(status="held")),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.read_at:%Y-%m-%d %H:%M} · {self.counter_value}"
