"""Readings that did not fit, and what probably happened."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class Cause(models.TextChoices):
    """What may have happened to a reading."""

    OK = "ok", _("nothing wrong")
    ROLLOVER = "rollover", _("counter went past its last digit")
    COUNTER_EXCHANGE = "counter_exchange", _("counter exchanged or reset")
    DIGITS_SWAPPED = "digits_swapped", _("two digits swapped")
    DIGIT_MISREAD = "digit_misread", _("one digit misread")
    WRONG_TRUCK = "wrong_truck", _("read on another truck")
    UNCHANGED = "unchanged", _("counter stuck, or the last value copied")
    UNEXPLAINED = "unexplained", _("not explained")
    DIGITS_MISCOUNTED = "digits_miscounted", _("one digit left out or written twice")
    RULED = "ruled", _("somebody decided")


class Settlement(models.TextChoices):
    """What a later reading settled without anybody being asked."""

    NONE = "", _("nothing")
    ACCEPTED_LATER = "accepted_later", _("taken after all: the next reading bore it out")
    SET_ASIDE = "set_aside", _("set aside: the next reading contradicts it")
    BORNE_OUT = "borne_out", _("left aside: a later reading fits without it")


class SuspectReadingQuerySet(DerivedQuerySet):
    """Suspect readings by whether a person is still needed."""

    def to_settle(self) -> Self:
        """Held at present, newest first."""
        return self.filter(is_held=True).order_by("-reading__read_at", "-pk")

    def settled_without_asking(self) -> Self:
        """What a later reading settled, newest first; can be undone."""
        return self.exclude(settlement=Settlement.NONE).order_by("-reading__read_at", "-pk")

    def with_links(self) -> Self:
        """With reading, door, depot and the other door, in the same query."""
        return self.select_related("reading", "door", "truck", "depot", "other_door")


class SuspectReading(models.Model):
    """The plausibility check's opinion of one reading."""

    generation = generation()
    reading = link("inspections.CounterReading", _("reading"))
    door = link("fleetdoors.DoorUnit", _("door"))
    truck = link("fleetdoors.Truck", _("truck"), null=True)
    depot = link("fleetdoors.Depot", _("depot"), null=True)
    is_held = models.BooleanField(_("held"))
    cause = models.CharField(_("cause"), max_length=20, choices=Cause)
    probability = models.FloatField(_("probability"))
    suggestion = models.PositiveBigIntegerField(_("suggested value"), null=True)
    suggestion_probability = models.FloatField(_("probability of the suggestion"), null=True)
    expected_low = models.FloatField(_("expected, lowest"), null=True)
    expected_high = models.FloatField(_("expected, highest"), null=True)
    other_door = link("fleetdoors.DoorUnit", _("other door"), null=True)
    settlement = models.CharField(
        _("settled without asking"), max_length=20, choices=Settlement, blank=True
    )

    objects = SuspectReadingQuerySet.as_manager()

    class Meta:
        verbose_name = _("suspect reading")
        verbose_name_plural = _("suspect readings")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "reading"), name="suspect_reading_unique"
            ),
        )
        indexes = (models.Index(fields=("generation", "door"), name="suspect_reading_door"),)

    def __str__(self) -> str:
        return f"{self.reading_id} · {self.cause}"
