"""Photos and documents, each tied to the one thing it shows."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorModel
from inspections.models.counter_reading import CounterReading
from inspections.models.defect_report import DefectReport
from inspections.models.fault import Fault
from inspections.models.fault_trace import FaultTrace
from inspections.models.inspection import Inspection
from inspections.models.visit import Visit

TARGETS = (
    "reading", "visit", "inspection", "trace", "fault", "defect_report", "door_model",
)  # fmt: skip


def _exactly_one() -> Q:
    condition = Q()
    for chosen in TARGETS:
        one = Q()
        for each in TARGETS:
            one &= Q((f"{each}__isnull", each != chosen))
        condition |= one
    return condition


class AttachmentQuerySet(models.QuerySet["Attachment"]):
    """Files by the page's question."""

    def documents_of(self, door_model: DoorModel) -> Self:
        """The documents of a door type that are in force, by title."""
        return self.filter(door_model=door_model, withdrawn_at__isnull=True).order_by("title", "pk")

    def documents_before(self, door_model: DoorModel) -> Self:
        """The documents of a door type that gave way or were withdrawn, the latest first."""
        gone = self.filter(door_model=door_model, withdrawn_at__isnull=False)
        return gone.select_related("withdrawn_by").order_by("-withdrawn_at", "-pk")


class Attachment(models.Model):
    """A file as it was received; its name on disk is its own hash, so none overwrites another."""

    file = models.FileField(_("file"), upload_to="kept/%Y/%m/", max_length=200)
    sha256 = models.CharField(_("SHA-256"), max_length=64)
    content_type = models.CharField(_("type of content"), max_length=100)
    bytes_count = models.PositiveBigIntegerField(_("bytes"))
    title = models.CharField(_("title"), max_length=200, blank=True)
    taken_at = models.DateTimeField(_("taken at"))
    reading = models.ForeignKey(
        CounterReading,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("reading"),
    )
    visit = models.ForeignKey(
        Visit,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("visit"),
    )
    inspection = models.ForeignKey(
        Inspection,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("inspection"),
    )
    trace = models.ForeignKey(
        FaultTrace,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("fault trace"),
    )
    fault = models.ForeignKey(
        Fault,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("fault"),
    )
    defect_report = models.ForeignKey(
        DefectReport,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="attachments",
        verbose_name=_("driver's report"),
    )
    door_model = models.ForeignKey(
        DoorModel,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="documents",
        verbose_name=_("door model"),
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
    replaces = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="replacement",
        verbose_name=_("replaces"),
    )
    withdrawn_at = models.DateTimeField(_("withdrawn at"), null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("withdrawn by"),
    )
    withdrawal_reason = models.CharField(_("why it was withdrawn"), max_length=200, blank=True)

    objects = AttachmentQuerySet.as_manager()

    class Meta:
        ordering = ("-taken_at", "-pk")
        verbose_name = _("attachment")
        verbose_name_plural = _("attachments")
        constraints = (
            models.CheckConstraint(condition=_exactly_one(), name="attachment_shows_one_thing"),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawal_reason=""),
                name="attachment_withdrawn_says_why",
            ),
        )

    def __str__(self) -> str:
        return self.title or str(self.file.name)
