"""One-off checks over a door model or a part: who has had it, and who has not."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorModel, DoorUnit, Fitment, Part
from fleetdoors.models.record import Record, RecordQuerySet


class OneOffCheckQuerySet(models.QuerySet["OneOffCheck"]):
    """Checks by the page's question."""

    def open(self) -> Self:
        """Those that still run, the newest first."""
        return self.filter(closed_at__isnull=True).order_by("-opened_at", "-pk")


class OneOffCheck(models.Model):
    """Something to look at once on every door of a model, or on every door that carries a part."""

    title = models.CharField(_("title"), max_length=120)
    what_to_look_at = models.TextField(_("what to look at"))
    door_model = models.ForeignKey(
        DoorModel, models.PROTECT, null=True, blank=True, related_name="+", verbose_name=_("model")
    )
    part = models.ForeignKey(
        Part, models.PROTECT, null=True, blank=True, related_name="+", verbose_name=_("part")
    )
    opened_at = models.DateTimeField(_("opened at"))
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("opened by"),
    )
    closed_at = models.DateTimeField(_("closed at"), null=True, blank=True)
    why_closed = models.CharField(_("why it was closed"), max_length=200, blank=True)

    objects = OneOffCheckQuerySet.as_manager()

    class Meta:
        ordering = ("-opened_at", "-pk")
        verbose_name = _("one-off check")
        verbose_name_plural = _("one-off checks")
        constraints = (
            models.CheckConstraint(
                condition=Q(door_model__isnull=True, part__isnull=False)
                | Q(door_model__isnull=False, part__isnull=True),
                name="one_off_check_of_a_model_or_a_part",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | ~Q(why_closed=""),
                name="one_off_check_closed_says_why",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
                name="one_off_check_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return self.title

    def doors(self) -> models.QuerySet[DoorUnit]:
        """Doors that the check concerns today: of the model, or carrying the part; not retired."""
        doors = DoorUnit.objects.filter(retired_on__isnull=True).order_by("serial")
        if self.door_model_id:
            return doors.filter(door_model=self.door_model_id)
        carries = Fitment.objects.in_place().filter(door=OuterRef("pk"), part=self.part_id)
        return doors.filter(Exists(carries))


class OneOffLook(Record):
    """A door that has had the check: what was found, and by whom."""

    check_asked = models.ForeignKey(
        OneOffCheck, models.PROTECT, related_name="looks", verbose_name=_("one-off check")
    )
    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="one_off_looks", verbose_name=_("door")
    )
    looked_at = models.DateTimeField(_("looked at"))
    looked_by = models.CharField(_("looked at by"), max_length=100)
    is_as_it_should_be = models.BooleanField(_("as it should be"))
    note = models.CharField(_("what was found"), max_length=300, blank=True)

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("check_asked", "door", "pk")
        verbose_name = _("door with the one-off check")
        verbose_name_plural = _("doors with the one-off check")
        constraints = (
            models.UniqueConstraint(
                fields=("check_asked", "door"),
                condition=Q(superseded_at__isnull=True),
                name="one_off_look_one_in_force",
            ),
            models.CheckConstraint(
                condition=Q(is_as_it_should_be=True) | ~Q(note=""),
                name="one_off_look_finding_is_told",
            ),
        )

    def __str__(self) -> str:
        return f"{self.check_asked} · {self.door}"
