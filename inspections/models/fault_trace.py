"""Fault tracing: the questions asked at a door, what was answered, and the verdict."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import DoorUnit
from inspections.codes import Complaint
from inspections.models.fault import Fault
from inspections.models.visit import Visit


class AnswerKind(models.TextChoices):
    """How a question was answered."""

    YES = "yes", _("yes")
    NO = "no", _("no")
    CANNOT_TELL = "cannot_tell", _("cannot tell")
    MEASURED = "measured", _("measured")
    SIGNED = "signed", _("signed for")


class FaultTrace(models.Model):
    """A search for the cause of one symptom; its verdict is a proposal, not a repair."""

    door = models.ForeignKey(
        DoorUnit, models.PROTECT, related_name="traces", verbose_name=_("door")
    )
    visit = models.ForeignKey(
        Visit, models.PROTECT, null=True, blank=True, related_name="traces", verbose_name=_("visit")
    )
    symptom = models.CharField(_("symptom"), max_length=3, choices=Complaint)
    begun_at = models.DateTimeField(_("begun at"))
    begun_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("begun by"),
    )
    engine_running = models.BooleanField(_("engine running"), default=False)
    verdict = models.CharField(_("verdict"), max_length=4, blank=True)
    is_unproven = models.BooleanField(_("not proven"), default=False)
    closed_at = models.DateTimeField(_("closed at"), null=True, blank=True)
    fault = models.ForeignKey(
        Fault, models.PROTECT, null=True, blank=True, related_name="traces", verbose_name=_("fault")
    )
    entered_at = models.DateTimeField(_("entered at"))

    class Meta:
        ordering = ("door", "begun_at", "pk")
        verbose_name = _("fault trace")
        verbose_name_plural = _("fault traces")
        constraints = (
            models.UniqueConstraint(
                fields=("door", "symptom"),
                condition=Q(closed_at__isnull=True),
                name="fault_trace_one_open_for_a_symptom",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("begun_at")),
                name="fault_trace_ends_after_start",
            ),
        )

    def __str__(self) -> str:
        return f"{self.door} · {self.symptom} · {self.begun_at:%Y-%m-%d}"


class TraceAnswerQuerySet(models.QuerySet["TraceAnswer"]):
    """Answers by the page's question."""

    def in_force(self) -> Self:
        """Answers not taken back, in the order given."""
        return self.filter(withdrawn_at__isnull=True).order_by("sequence")


class TraceAnswer(models.Model):
    """One answer; taken back, it stays on record with the moment."""

    trace = models.ForeignKey(
        FaultTrace, models.PROTECT, related_name="answers", verbose_name=_("fault trace")
    )
    sequence = models.PositiveIntegerField(_("sequence"))
    node = models.CharField(_("question"), max_length=4)
    kind = models.CharField(_("answer"), max_length=12, choices=AnswerKind)
    values = models.JSONField(_("measured values"), default=dict, blank=True)
    jump_reason = models.CharField(_("why this was done out of turn"), max_length=200, blank=True)
    answered_at = models.DateTimeField(_("answered at"))
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name=_("answered by"),
    )
    withdrawn_at = models.DateTimeField(_("taken back at"), null=True, blank=True)

    objects = TraceAnswerQuerySet.as_manager()

    class Meta:
        ordering = ("trace", "sequence")
        verbose_name = _("answer")
        verbose_name_plural = _("answers")
        constraints = (
            models.UniqueConstraint(fields=("trace", "sequence"), name="trace_answer_in_order"),
        )

    def __str__(self) -> str:
        return f"{self.trace} · {self.node} · {self.kind}"
